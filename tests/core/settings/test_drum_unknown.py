"""A card that does not know its drum: what follows from the pull-out alone is still judged."""

from dataclasses import replace

import pytest

from reelcare.core.machine.card import Card, Drum
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.setting import work_out
from reelcare.core.settings.sheet_words import verdict
from reelcare.core.settings.warning_codes import refused

WHOLE = Wishes(spacing=68, out=400, depth=0.025, inlet=7e5, nozzle=0.024, drive_loss=0.5e5)


@pytest.fixture
def drumless(card: Card) -> Card:
    return replace(card, drum=Drum())


def test_the_whole_hose_pulled_out_leaves_no_coil_on_any_drum(drumless: Card, limits: SetLimits) -> None:
    setting = work_out(drumless, WHOLE, limits)
    assert setting.coils_left == 0
    told = {one.code: one.text() for one in setting.warnings}
    assert told["coils"] == "0.0 coils stay on the drum, at least 2 must: pull out less"
    assert refused(told)
    assert setting.deciding is not None
    assert setting.deciding.over
    assert "not judged: coils left" not in verdict(setting)
    assert "coils" not in {one.code for one in work_out(drumless, replace(WHOLE, timing_check=True), limits).warnings}


def test_with_a_coil_on_the_drum_they_are_not_judged(drumless: Card, limits: SetLimits) -> None:
    setting = work_out(drumless, replace(WHOLE, out=399), limits)
    assert setting.coils_left is None
    assert "coils" not in {one.code for one in setting.limits}
    assert "not judged: coils left" in verdict(setting)


def test_a_hose_that_was_all_out_lies_in_coils_at_home(drumless: Card, limits: SetLimits) -> None:
    """Coils lose 36 % more where the drum is not known (set-limits.toml): of the hose at home as much as of nearly all
    of it."""
    whole, nearly = (work_out(drumless, replace(WHOLE, out=out), limits) for out in (400, 399.999))
    assert "coil_more" in {one.key for one in whole.taken}
    for one, other in zip(whole.likely + whole.worst, nearly.likely + nearly.worst, strict=True):
        assert one.gun == pytest.approx(other.gun, rel=1e-4)
    home = whole.pressures[-1]
    assert home.coil_loss == pytest.approx(0.36 * home.straight_loss, rel=1e-9)
