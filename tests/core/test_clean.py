"""Every text of an entry is made clean, and none is longer than is meant."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.clean import clean
from reelcare.core.entries import typed

some = st.text() | st.text(alphabet=" abz\t\n\x1b\u200b\udcc5é", max_size=4) | st.integers(78, 83).map("x".__mul__)


@given(some, some)
def test_every_text_of_an_entry_is_made_clean_and_a_name_is_no_longer_than_is_meant(item: str, note: str) -> None:
    what = e.Service(item=item, note=note)
    if len(clean(item)) > typed.LONGEST_NAME:
        with pytest.raises(e.EntryError, match="at most 80 are kept"):
            typed.cleaned(what)
    else:
        assert typed.cleaned(what) == e.Service(item=clean(item), note=clean(note, lines=True))
