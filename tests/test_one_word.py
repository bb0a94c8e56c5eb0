"""One word for one part, in Spanish and in French: the others that people say for it stand nowhere.

Looked at are sheets, plan and model, and the catalogues of the program. The words: common practice of farm workers, no
source; regions differ.
"""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from reelcare import languages

FILES = sorted(Path("checklists").glob("*.toml"))
# the word that is used, and those that are not
WORDS = {
    "es": {
        "corona": "tornamesa|plataforma giratoria",
        "rodamiento": "cojinetes?",
        "retén": "sellos?",
        "franja": "carril(es)?|calles?",
        "bulón, pasador": "pernos?",
        "marcha": "gamas?",
        "resguardo": "protector(es)?",
        "agua": "suministro",
        "acometida": "manguera de (toma|suministro)",
        "guía": "guía de manguera",
        "acople": "acoplamientos?",
        "palpador": "barra de(l)? paro",
        "toma": "toma de fuerza",
        "ala": "barra de riego|pluma",
        "latiguillo": "mangueras? (hidráulicas?|de aceite)",
        "manguera": "tubería flexible",
        "calzo": "tacos?",
        "lanza": "barra de tiro",
        "manómetro": "reloj de presión",
        "boquilla": "tobera",
        "husillo": "tornillo sin fin",
    },
    "fr": {
        "bobine": "tambours?",
        "tuyau": "boyaux?|tube polyéthylène",
        "guide": "guide-tuyau|trancannage",
        "transmission": "entraînement",
        "boîte": "réducteur|boîte de vitesses",
        "dérivation": "by-?pass",
        "pignon": "roues? dentées?",
        "cliquet, verrou": "loquets?|chiens?",
        "palpeur": "barre d'arrêt",
        "programmateur": "automates?|boîtier électronique",
        "tourelle": "plateaux? tournants?|plaque tournante|table tournante",
        "broche, axe": "chevilles?",
        "goupille": "clips?|épingles?",
        "béquille": "stabilisateurs?|pattes?|jambes?",
        "bêche": "patins?|sabots?",
        "cric": "vérin de timon|vérin de flèche",
        "timon": "(flèche|barre) d'attelage",
        "prise": "prise de force",
        "cardan": "arbre de (prise|transmission)",
        "flexible": "tuyaux? (hydrauliques?|d'huile)",
        "chariot": "traîneaux?",
        "rampe": "ailes?",
        "canon": "asperseurs?",
        "buse": "gicleurs?|ajutages?",
        "balancier": "bras (de choc|oscillant)",
        "secteur": "arcs?",
        "butée": "taquets?",
        "roulement": "paliers?",
        "spi": "joints? spi|bague d'étanchéité",
        "protecteur": "capots?",
        "bande": "couloirs?|allées?",
        "borne": "hydrants?|prise d'eau",
        "alimentation": "tuyau d'(alimentation|amenée)",
        "raccord": "coupleurs?|accouplements?",
        "crépine": "tamis",
        "manomètre": "jauges?",
        "tracter": "remorquer|remorquage",
    },
}
# the same of people and events, of which the program alone speaks; words that are typed stay as they are
OF_THE_PROGRAM = {
    "es": {"casi accidente": "sustos?", "encargado": "(?<!-)(?<!--role )(?<!mechanic o )supervisor(es)?"},
    "fr": {"presque accident": "quasi-accidents?", "responsable": "superviseurs?"},
}


def texts_of(table: object, language: str) -> Iterator[str]:
    """Every text of a language in a table, however deep."""
    if isinstance(table, dict):
        for key, value in table.items():
            if key == language and isinstance(value, str):
                yield value
            else:
                yield from texts_of(value, language)
    elif isinstance(table, list):
        for one in table:
            yield from texts_of(one, language)


def sheets_in(language: str, file: Path) -> list[str]:
    return list(texts_of(tomllib.loads(file.read_text("utf-8")), language))


def catalogue_in(language: str) -> Iterator[str]:
    """Every translation of the program's texts, without the names of its fields."""
    with Path(f"reelcare/locale/{language}/LC_MESSAGES/reelcare.po").open("rb") as file:
        for message in read_po(file, abort_invalid=True):
            forms = [message.string] if isinstance(message.string, str) else list(message.string or ())
            yield from (re.sub(r"\{[^}]*\}", " ", form) for form in forms if message.id)


def test_every_language_beside_english_has_its_words() -> None:
    assert {"en", *WORDS} == set(languages.LANGUAGES)


@pytest.mark.parametrize("language", WORDS)
@pytest.mark.parametrize("file", FILES, ids=lambda one: one.stem)
def test_a_part_is_called_by_its_one_word(file: Path, language: str) -> None:
    texts = sheets_in(language, file)
    assert texts or file.stem == "set-limits"
    for word, others in WORDS[language].items():
        for text in texts:
            assert not re.search(rf"\b({others})\b", text, re.IGNORECASE), f"{word}: {text}"


@pytest.mark.parametrize("language", WORDS)
def test_the_program_calls_a_part_as_the_sheets_do(language: str) -> None:
    texts = list(catalogue_in(language))
    assert texts
    for word, others in (WORDS[language] | OF_THE_PROGRAM[language]).items():
        found = [text for text in texts if re.search(rf"\b({others})\b", text, re.IGNORECASE)]
        assert found == [], word


@pytest.mark.parametrize("language", WORDS)
def test_the_words_that_are_used_do_stand_there(language: str) -> None:
    everything = " ".join(text for file in FILES for text in sheets_in(language, file)).lower()
    for words in WORDS[language]:
        for word in words.split(", "):
            assert word in everything, word
