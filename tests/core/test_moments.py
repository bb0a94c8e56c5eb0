"""Moments as they are kept, against the published cases of clocks that are put on and back."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reelcare.core import entries as e

NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        # row R33: a time that the clocks leave out has the offset from before (PEP 495), here -05:00
        ("2003-04-06T02:30", "2003-04-06T07:30:00.000Z"),
        # one that they show twice is the first
        ("2003-10-26T01:30", "2003-10-26T05:30:00.000Z"),
        ("2003-07-01T01:30", "2003-07-01T05:30:00.000Z"),
    ],
)
def test_a_time_of_the_clocks_is_a_moment(typed: str, kept: str) -> None:
    moment = datetime.fromisoformat(typed).replace(tzinfo=NEW_YORK)
    assert e.time_text(moment) == kept
    assert e.time_text(e.kept(moment)) == kept


@given(st.datetimes(timezones=st.sampled_from([UTC, NEW_YORK])))
def test_what_is_kept_is_what_is_read_again(moment: datetime) -> None:
    assume(1 < moment.year < 9999)
    kept = e.kept(moment)
    assert kept.tzinfo is UTC
    assert timedelta(0) <= moment.astimezone(UTC) - kept < timedelta(milliseconds=1)
    assert e.time_of(e.time_text(moment)) == kept == e.kept(kept)
