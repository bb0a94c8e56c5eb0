"""Headings that people usually give to our columns, in several languages: offered as a matching, to be looked at.

The rules of this file: a heading is taken by its whole words only (common practice, no source); what stands in cells is
never guessed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from reelcare.core.spreadsheet.cells import half_of_moment
from reelcare.core.spreadsheet.columns import Matching, SheetKind, is_of_services, places_so_far, plain_heading, unit_in
from reelcare.core.spreadsheet.table import SpreadsheetTable

_RUNS = {
    "machine": "machine, machine no, reel, tag, gerät, maschine, maschinennummer, masch nr, nr, máquina, maquina, "
    "équipo, equipo, enrouleur, no machine, machine nr",
    "started": "started, start, begin, begun, from, beginn, von, anfang, inicio, desde, début, debut, de",
    "ended": "ended, end, finish, finished, to, until, ende, bis, fin, final, hasta, à",
    "duration": "duration, run time, running time, hours run, dauer, laufzeit, duración, duracion, tiempo, durée, "
    "temps",
    "metres": "metres, meters, length, laid out, pulled out, pull-out, hose out, gelegt, ausgelegt, länge, laenge, "
    "metros, largo, tirada, mètres, longueur, déroulé",
    "planned_speed": "speed, planned speed, geschwindigkeit, einzug, velocidad, vitesse",
    "inlet": "inlet, inlet pressure, pressure, druck, eingangsdruck, presión, presion, pression",
    "gun": "gun pressure, pressure at the gun, düsendruck, presión en el cañón, pression au canon",
    "operator": "operator, driver, who, fahrer, bediener, wer, operador, quién, opérateur, qui",
    "place": "place, field, feld, schlag, ort, campo, lugar, champ, parcelle, lieu",
    "notes": "notes, note, remarks, remark, bemerkung, bemerkungen, notas, observaciones, remarques",
    "volume": "volume, water, wasser, wassermenge, volumen, agua, eau",
    "meter": "meter reading, water meter, zählerstand, contador, compteur",
}
_MACHINES = {
    "tag": "tag, machine, machine no, no, number, gerät, maschine, masch nr, nr, nummer, máquina, maquina, número, "
    "numero, enrouleur, numéro, kennzeichen, repère, identificador",
    "name": "name, bezeichnung, nombre, nom",
    "place": "place, where, ort, standort, lugar, lieu, emplacement",
    "in_use_since": "in use since, since, year, in betrieb seit, seit, baujahr, en uso desde, desde, "
    "en service depuis, depuis, inbetriebnahme, mise en service, puesta en servicio",
    "in_use.hours": "hours then, stunden damals, horas entonces",
    "hose.length": "hose length, hose, schlauchlänge, rohrlänge, rohr, largo de manguera, manguera, longueur du tuyau, "
    "tuyau",
    "hose.outside": "hose outside, outside diameter, aussendurchmesser, außendurchmesser, diámetro exterior, "
    "diamètre extérieur",
    "hose.inside": "hose inside, inside diameter, innendurchmesser, diámetro interior, diamètre intérieur",
    "hose.material": "material, hose material, werkstoff, matériau",
    "cart.nozzle": "nozzle, düse, boquilla, buse",
}
"""Since when a machine is in use is not the day on which it was bought: that may have been as an old one."""
_LAST_DONE = {
    "machine": _MACHINES["tag"],
    "now": "hours, hours now, counter, counter now, hour counter, stunden, zähler, zählerstand, betriebsstunden, "
    "horas, contador, cuentahoras, heures, compteur, compteur d'heures",
}

_SERVICES = {
    "machine": _MACHINES["tag"],
    "item": "item, plan item, service, work, work done, task, job, part, what, arbeit, wartung, tätigkeit, was, "
    "posten, teil, tarea, servicio, trabajo, punto, mantenimiento, elemento, pieza, qué, travail, entretien, point, "
    "tâche, opération, intervention, élément, pièce, quoi",
    "on": "on, date, day, done, done on, last done, last done on, last, when, service date, datum, am, erledigt, "
    "erledigt am, gemacht am, zuletzt, wann, fecha, día, hecho, hecho el, realizado, último, última vez, cuándo, jour, "
    "fait, fait le, effectué le, dernière fois, quand",
    "at": "at, hours, hours then, counter, counter then, hour counter, done at, stunden, std, zähler, zählerstand, "
    "betriebsstunden, horas, contador, cuentahoras, horómetro, heures, compteur, compteur d'heures, horamètre",
}
"""Last-done dates with one service in each row."""

_TOTALS = frozenset((
    "total", "totals", "grand total", "subtotal", "sub-total", "sum", "summe", "gesamt", "gesamtsumme", "insgesamt",
    "zwischensumme", "suma", "suma total", "total general", "somme", "totaux", "total général", "sous-total", "σ",
))  # fmt: skip


def is_totals(text: str) -> bool:
    """Whether the first cell of a row says that it has totals, as at the foot of many spreadsheets.

    >>> is_totals("TOTAL:"), is_totals("Total 2")
    (True, False)
    """
    return _words(text) in _TOTALS


def _words(text: str) -> str:
    return " ".join("".join(sign if sign.isalnum() or sign == "-" else " " for sign in text.casefold()).split())


def with_usual(
    table: SpreadsheetTable, matching: Matching, kind: SheetKind, titles: Mapping[str, Iterable[str]] | None = None
) -> Matching:
    """The matching with what usual headings say of columns that are not matched yet. `titles` are those of the items of
    the plan. A heading that could stand for two columns stands for none."""
    titles = titles or {}
    if kind == "last done":
        matching = _with_item(table, matching, titles)
    of_services = kind == "last done" and is_of_services(matching)
    known = {"runs": _RUNS, "machines": _MACHINES, "last done": _SERVICES if of_services else _LAST_DONE}[kind]
    usual = {name: {_words(one) for one in words.split(",")} for name, words in known.items()}
    if not of_services:
        usual |= {name: {_words(one) for one in some} for name, some in titles.items()}
    have = places_so_far(table, matching, kind, titles)
    taken = {cell for one in have.values() for cell in one.cells}
    plain = [plain_heading(heading) for heading in table.header]
    for cell, heading in enumerate(table.header):
        if plain.count(plain[cell]) > 1:
            continue  # of two columns of one heading none is meant
        says = _says(heading)
        names = [
            one for one, words in usual.items() if words & says and one not in have and one not in matching.of(kind)
        ]
        if cell in taken or len(names) != 1:
            continue
        has_days = any(half_of_moment(row[cell]) == "day" for _number, row in table.rows)
        if names[0] not in NAMED or not has_days:
            matching = matching.with_column(kind, names[0], (heading,))
            have = places_so_far(table, matching, kind, titles)
    return matching


NAMED = ("machine", "tag")
"""Columns that name a machine. *Tag* is German for day, too: what has days names none."""


def _with_item(table: SpreadsheetTable, matching: Matching, titles: Mapping[str, Iterable[str]]) -> Matching:
    """The matching with the one column that says of which item a row is, where no item has a column of its own."""
    own = {_words(title) for some in titles.values() for title in some}
    taken = {heading for some in matching.last_done.values() for heading in some}
    usual = {_words(one) for one in _SERVICES["item"].split(",")}
    matched = any(some and name in titles for name, some in matching.last_done.items())
    if "item" in matching.last_done or matched or any(_says(one) & own for one in table.header):
        return matching
    found = [one for one in table.header if _says(one) & usual and one not in taken]
    found = [one for one in found if _words(one) == "item"] or found
    return matching.with_column("last done", "item", (found[0],)) if len(found) == 1 else matching


def _says(heading: str) -> set[str]:
    """The words of a heading, with its unit and without."""
    return {_words(heading), _words(unit_in(heading)[0])}


def items_named(text: str, titles: Mapping[str, Iterable[str]]) -> list[str]:
    """The items that a text names by its whole words: the id, or a title in any language.

    >>> items_named("gear  OIL", {"gearbox-oil": ["gearbox-oil", "Gear oil"], "chain": ["chain", "Chain"]})
    ['gearbox-oil']
    """
    return [name for name, some in titles.items() if _words(text) in {_words(one) for one in some}]
