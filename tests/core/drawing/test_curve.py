"""The curve of failures over age: its span ends where it says."""

from reelcare.core.drawing.curve import MARGIN, draw
from reelcare.core.evidence.failures.counts import Mean


def test_a_span_goes_from_its_upper_to_its_lower_end_and_no_further() -> None:
    picture = draw([Mean(0.0, 0.5, 0.25, 1.0, 4)], 100.0, width=MARGIN + 12, height=10)
    column = [row[MARGIN] for row in picture.rows]
    # nine rows from 1 at the top to 0: the mean in the middle, its span over the upper half and a quarter more
    assert column == ["░", "░", "░", "░", "━", "░", "░", " ", " ", "0"]
