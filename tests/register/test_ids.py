"""Ids, against the example of RFC 9562, appendix A.6."""

from uuid import UUID

from hypothesis import given
from hypothesis import strategies as st

from reelcare.register.integrity.ids import Ids


def test_an_id_has_the_layout_of_the_rfc_9562_example() -> None:
    example = UUID("017f22e2-79b0-7cc3-98c4-dc0c0c07398f")  # RFC 9562, appendix A.6
    ours = UUID(Ids().next(1645557742000))
    assert ours.int >> 80 == example.int >> 80 == 1645557742000
    assert ours.version == example.version == 7
    assert ours.variant == example.variant


@given(st.lists(st.integers(0, 2**47), min_size=2, max_size=50))
def test_ids_of_one_terminal_never_go_back_even_when_its_clock_does(moments: list[int]) -> None:
    ids = Ids()
    made = [ids.next(moment) for moment in moments]
    assert made == sorted(made)
    assert len(set(made)) == len(made)
    assert all(UUID(one).version == 7 for one in made)
