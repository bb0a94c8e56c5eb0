"""Parts are found by their names and by the usual words for them."""

from collections import Counter

import pytest

from reelcare import languages
from reelcare.core.parts import PARTS, RETESTS, USUAL, part_called, parts_matching
from reelcare.core.text import _


@pytest.mark.parametrize(
    ("word", "part"),
    [("tyre", "wheels"), ("belt", "drive"), ("Nozzle", "gun"), (" turbine ", "drive"), ("coupling", "supply hose"),
     ("neumático", "wheels"), ("Cliquet", "pawl"), ("END  STOP", "end stop")],
)  # fmt: skip
def test_a_usual_word_means_its_part(word: str, part: str) -> None:
    assert part_called(word) == part
    assert parts_matching(word) == (part,)


@pytest.mark.parametrize("language", languages.LANGUAGES)
def test_a_part_is_found_by_its_name_in_every_language(language: str) -> None:
    languages.install(language)
    assert {part: part_called(_(part)) for part in PARTS} == {part: part for part in PARTS}


def test_each_part_has_usual_words_and_a_retest_and_no_word_means_two_parts() -> None:
    assert set(USUAL) == set(RETESTS) == set(PARTS)
    words = Counter(word for some in USUAL.values() for word in some)
    assert [word for word, many in words.items() if many > 1] == []
    assert not set(words) & set(PARTS)
    assert all(word == word.casefold() for word in words)


def test_what_is_typed_so_far_narrows_the_parts_down() -> None:
    assert parts_matching("") == ()
    assert set(parts_matching("t")) > set(parts_matching("tu")) > set(parts_matching("turn"))
    assert parts_matching("tur") == ("drive", "turntable")
    assert parts_matching("turn") == ("turntable",)
    assert parts_matching("dynamo") == ()
