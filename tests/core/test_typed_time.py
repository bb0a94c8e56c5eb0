"""Times as people type them: ISO 8601, against the standard library, and the ends of the calendar."""

import re
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.typed_time import FIRST_YEAR, LAST_YEAR, TimeError, read_after, read_past, read_time, written

EAST = timezone(timedelta(hours=14))
WEST = timezone(timedelta(hours=-12))


SINCE_ZONES_ARE_WHOLE = datetime.fromisoformat("1970-01-01")
FIRST, LAST = (datetime.fromisoformat(f"{day}T00:00") for day in (f"{FIRST_YEAR}-01-01", f"{LAST_YEAR}-12-31"))


@given(st.datetimes(FIRST, LAST), st.sampled_from((None, UTC, EAST, WEST)))
def test_what_the_standard_library_writes_is_read_as_it_was_meant(moment: datetime, offset: timezone | None) -> None:
    written = moment.replace(tzinfo=offset).isoformat()
    assert read_time(f" {written} ", WEST) == moment.replace(tzinfo=offset or WEST)


@pytest.mark.parametrize(
    "text", ["2024-02-28T24:00", "2024-02-28 24:00:00", "20240228T2400", "2024-02-28T24", "2024-02-28T24:00:00.000"]
)
def test_twenty_four_hours_are_the_end_of_the_day(text: str) -> None:
    """ISO 8601-1:2019/Amd 1:2022, 5.3.1.2: the end of a day may be written as 24:00."""
    assert read_time(text, EAST) == datetime(2024, 2, 29, tzinfo=EAST)
    assert read_time(text + "Z", EAST) == datetime(2024, 2, 29, tzinfo=UTC)


@pytest.mark.parametrize("text", ["2024-02-28T24:01", "2024-02-28T25:00", "2025-02-29T10:00", "24:00", "", "noon"])
def test_what_is_no_time_is_told_as_such(text: str) -> None:
    with pytest.raises(TimeError, match="is not a time"):
        read_time(text, UTC)


@pytest.mark.parametrize("text", ["9999-12-31T23:59-12:00", "9999-12-31T24:00", "0001-01-01T00:00+14:00", "1899-12-31"])
def test_a_year_that_cannot_be_meant_is_refused(text: str) -> None:
    with pytest.raises(TimeError, match="must be a year from 1900 to 2999"):
        read_time(text, UTC)


@given(
    st.datetimes(SINCE_ZONES_ARE_WHOLE, LAST), st.sampled_from(("Europe/Madrid", "America/Santiago", "Asia/Kathmandu"))
)
def test_what_is_written_by_the_clock_is_read_as_the_same_moment(moment: datetime, zone: str) -> None:
    here = moment.replace(second=0, microsecond=0, tzinfo=UTC).astimezone(ZoneInfo(zone))
    if here.year <= LAST_YEAR:
        assert read_time(written(here), ZoneInfo(zone)).astimezone(UTC) == here.astimezone(UTC)


MADRID, SANTIAGO = ZoneInfo("Europe/Madrid"), ZoneInfo("America/Santiago")


@pytest.mark.parametrize("text", ["2026-03-29T02:00", "2026-03-29 02:30", "2026-03-29T02:59:59"])
def test_a_time_in_the_hour_that_summer_time_skips_is_refused(text: str) -> None:
    """In Madrid 02:00 of 29 March 2026 is 03:00 (Directive 2000/84/EC: the last Sunday of March, 01:00 UTC)."""
    with pytest.raises(TimeError, match="no such time"):
        read_time(text, MADRID)
    assert read_time(f"{text}+01:00", MADRID).utcoffset() == timedelta(hours=1)
    with pytest.raises(TimeError, match="no such time"):
        read_past(text.replace("T", " "), datetime(2026, 5, 1, tzinfo=UTC), MADRID)


@pytest.mark.parametrize("text", ["2026-10-25T02:00", "2026-10-25 02:30", "2026-10-25T02:59:59"])
def test_a_time_in_the_hour_that_comes_twice_asks_which_one_is_meant(text: str) -> None:
    """In Madrid 03:00 of 25 October 2026 is 02:00 (Directive 2000/84/EC: the last Sunday of October, 01:00 UTC)."""
    with pytest.raises(TimeError, match="comes twice") as why:
        read_time(text, MADRID)
    choices = re.findall(r"2026-10-25 02:\d\d[+]0[12]:00", str(why.value))
    assert [f"{read_time(one, MADRID).astimezone(UTC):%H}" for one in choices] == ["00", "01"]
    with pytest.raises(TimeError, match="comes twice"):
        read_past(text.replace("T", " "), datetime(2026, 11, 1, tzinfo=UTC), MADRID)


def test_a_time_beside_the_hour_that_is_skipped_or_comes_twice_is_read() -> None:
    for text in ("2026-03-29T01:59", "2026-03-29T03:00", "2026-03-28T24:00", "2026-10-25T01:59", "2026-10-25T03:00"):
        read_time(text, MADRID)
    # where the clocks go forward at midnight, a day alone still begins
    assert read_time("2026-09-06", SANTIAGO).astimezone(UTC) == datetime(2026, 9, 6, 4, tzinfo=UTC)


def test_a_time_on_paper_is_refused_on_its_own_day_only() -> None:
    saturday, sunday = (datetime(2026, 3, day, 23, 50, tzinfo=MADRID) for day in (28, 29))
    with pytest.raises(TimeError, match="no such time"):
        read_after("2:30", saturday, MADRID)
    assert read_after("2:30", sunday, MADRID) == datetime(2026, 3, 30, 2, 30, tzinfo=MADRID)
