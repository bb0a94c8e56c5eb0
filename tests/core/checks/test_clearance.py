"""What a passed check is good for, and the day that it is named by."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from reelcare.core.checks.clearance import PassedCheck, clear_for

DAY = timedelta(hours=24)


def test_a_check_is_named_by_the_day_of_its_own_place() -> None:
    # 02:00 on 2 June in UTC is 22:00 on 1 June in New York (IANA time-zone data)
    passed = PassedCheck(check="c", sheet="pre-start", at=datetime(2026, 6, 2, 2, tzinfo=UTC), by="Olav")
    says = []
    for zone in (ZoneInfo("America/New_York"), UTC):
        later = passed.at + timedelta(hours=30)
        says += [
            clear_for("run", passed, spent_at=passed.at, spent_by="the run", now=later, lapse=DAY, zone=zone)[1],
            clear_for("run", passed, spent_at=None, spent_by="", now=later, lapse=DAY, zone=zone)[1],
        ]
    assert says == [
        "pre-start of 2026-06-01 is used up by the run", "pre-start of 2026-06-01 is more than 24 h old",
        "pre-start of 2026-06-02 is used up by the run", "pre-start of 2026-06-02 is more than 24 h old",
    ]  # fmt: skip
