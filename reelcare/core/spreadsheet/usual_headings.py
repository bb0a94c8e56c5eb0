"""Headings that people usually give to our columns, in several languages: offered as a matching, to be looked at.

The rules of this file: a heading is taken by its whole words only (common practice, no source); what stands in cells is
never guessed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from reelcare.core.spreadsheet.columns import Matching, SheetKind, places_so_far, unit_in
from reelcare.core.spreadsheet.table import SpreadsheetTable

_RUNS = {
    "machine": "machine, machine no, reel, tag, maschine, maschinennummer, masch nr, nr, máquina, maquina, équipo, "
    "equipo, enrouleur, no machine, machine nr",
    "started": "started, start, begin, begun, from, beginn, von, anfang, inicio, desde, début, debut, de",
    "ended": "ended, end, finish, finished, to, until, ende, bis, fin, final, hasta, à",
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
    "tag": "tag, machine, machine no, no, number, maschine, masch nr, nr, nummer, máquina, maquina, número, numero, "
    "enrouleur, numéro, kennzeichen, repère, identificador",
    "name": "name, bezeichnung, nombre, nom",
    "place": "place, where, ort, standort, lugar, lieu, emplacement",
    "in_use_since": "in use since, since, bought, year, in betrieb seit, seit, baujahr, gekauft, en uso desde, desde, "
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
_LAST_DONE = {
    "machine": _MACHINES["tag"],
    "now": "hours, hours now, counter, counter now, hour counter, stunden, zähler, zählerstand, betriebsstunden, "
    "horas, contador, heures, compteur",
}

_TOTALS = frozenset(
    [
        "total",
        "totals",
        "grand total",
        "subtotal",
        "sub-total",
        "sum",
        "summe",
        "gesamt",
        "gesamtsumme",
        "insgesamt",
        "zwischensumme",
        "suma",
        "suma total",
        "total general",
        "somme",
        "totaux",
        "total général",
        "sous-total",
        "σ",
    ]
)


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
    known = {"runs": _RUNS, "machines": _MACHINES, "last done": _LAST_DONE}[kind]
    usual = {name: {_words(one) for one in words.split(",")} for name, words in known.items()}
    usual |= {name: {_words(one) for one in some} for name, some in titles.items()}
    have = places_so_far(table, matching, kind, titles)
    taken = {cell for one in have.values() for cell in one.cells}
    for cell, heading in enumerate(table.header):
        says = {_words(heading), _words(unit_in(heading)[0])}
        names = [
            one for one, words in usual.items() if words & says and one not in have and one not in matching.of(kind)
        ]
        if cell not in taken and len(names) == 1:
            matching = matching.with_column(kind, names[0], (heading,))
            have = places_so_far(table, matching, kind, titles)
    return matching
