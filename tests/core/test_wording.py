"""How long ago: the unit changes at a whole minute, a whole hour and two days."""

from datetime import UTC, datetime, timedelta

import pytest

from reelcare.core.wording import ago

NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)
MOMENT = timedelta(milliseconds=1)


@pytest.mark.parametrize(
    ("passed", "before", "at"),
    [
        (timedelta(minutes=1), "just now", "1 min ago"),
        (timedelta(hours=1), "59 min ago", "1 h ago"),
        (timedelta(days=2), "47 h ago", "2 days ago"),
    ],
)
def test_the_unit_changes_at_its_boundary(passed: timedelta, before: str, at: str) -> None:
    assert ago(NOW - passed + MOMENT, NOW) == before
    assert ago(NOW - passed, NOW) == at
