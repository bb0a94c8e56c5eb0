"""One Spanish word for one part, in sheets, plan and model: the others that people say for it stand nowhere.

The words: common practice of farm workers, no source.
"""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

FILES = sorted(Path("checklists").glob("*.toml"))
# the word that is used, and those that are not
WORDS = {
    "corona": "tornamesa|plataforma giratoria",
    "rodamiento": "cojinetes?",
    "retén": "sellos?",
    "franja": "carril(es)?",
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
    "latiguillo": "mangueras? hidráulicas?",
    "manguera": "tubería flexible",
    "calzo": "tacos?",
    "lanza": "barra de tiro",
    "manómetro": "reloj de presión",
    "boquilla": "tobera",
    "husillo": "tornillo sin fin",
}


def spanish(table: object) -> Iterator[str]:
    """Every Spanish text in a table, however deep."""
    if isinstance(table, dict):
        for key, value in table.items():
            if key == "es" and isinstance(value, str):
                yield value
            else:
                yield from spanish(value)
    elif isinstance(table, list):
        for one in table:
            yield from spanish(one)


@pytest.mark.parametrize("file", FILES, ids=lambda one: one.stem)
def test_a_part_is_called_by_its_one_word(file: Path) -> None:
    texts = list(spanish(tomllib.loads(file.read_text("utf-8"))))
    assert texts or file.stem == "set-limits"
    for word, others in WORDS.items():
        for text in texts:
            assert not re.search(rf"\b({others})\b", text, re.IGNORECASE), f"{word}: {text}"


def test_the_words_that_are_used_do_stand_there() -> None:
    everything = " ".join(text for file in FILES for text in spanish(tomllib.loads(file.read_text("utf-8")))).lower()
    for words in WORDS:
        for word in words.split(", "):
            assert word in everything, word
