"""When something was done, as people say it."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from reelcare import languages
from reelcare.core.typed_time import TimeError, read_past

MADRID = ZoneInfo("Europe/Madrid")
NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)


def local(*when: int) -> datetime:
    return datetime(*when, tzinfo=MADRID)  # type: ignore[misc, arg-type]


@pytest.mark.parametrize(
    ("text", "meant"),
    [("", NOW), ("today", NOW), ("hoy", NOW), ("aujourd’hui", NOW), ("hier", local(2026, 6, 30, 23, 59)),
     ("ayer 16:30", local(2026, 6, 30, 16, 30)), ("2026-07-01", NOW), ("yesterday", local(2026, 6, 30, 23, 59)),
     ("Ayer 16:30", local(2026, 6, 30, 16, 30)), ("today 08:15", local(2026, 7, 1, 8, 15)),
     ("2026-06-28", local(2026, 6, 28, 23, 59)), ("2026-06-28 06:30", local(2026, 6, 28, 6, 30)),
     ("2026-06-28T06:30", local(2026, 6, 28, 6, 30))],
)  # fmt: skip
def test_a_day_alone_is_its_end_and_a_time_may_stand_behind_it(text: str, meant: datetime) -> None:
    assert read_past(text, NOW, MADRID) == meant


def test_yesterday_is_the_day_before_in_the_zone_of_the_register() -> None:
    late = datetime(2026, 6, 30, 22, 30, tzinfo=UTC)  # already 1 July in Madrid
    assert read_past("yesterday", late, MADRID) == local(2026, 6, 30, 23, 59)


@pytest.mark.parametrize("text", ["tomorrow", "yesteday", "31/12/2025", "2026-13-01", "today noon", "yesterday 25:00"])
def test_what_is_no_day_is_refused_with_what_would_be_right(text: str) -> None:
    with pytest.raises(TimeError, match="write today, yesterday"):
        read_past(text, NOW, MADRID)


@pytest.mark.parametrize("text", ["2026-07-02", "today 23:00", (NOW + timedelta(days=9)).date().isoformat()])
def test_what_is_still_to_come_was_not_done(text: str) -> None:
    with pytest.raises(TimeError, match="in the future"):
        read_past(text, NOW, MADRID)


@pytest.mark.parametrize("language", ["en", "es", "fr"])
def test_the_word_that_a_form_names_is_understood_in_its_language(language: str) -> None:
    hint = languages.catalogue(language).gettext("blank for now; yesterday, 2026-05-01 16:30")
    word = hint.split(";")[1].split(",")[0].strip()
    assert read_past(word, NOW, MADRID) == local(2026, 6, 30, 23, 59)
