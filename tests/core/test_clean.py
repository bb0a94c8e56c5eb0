"""Many texts made clean at once are what each is made alone."""

from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.clean import clean, clean_all


@given(st.lists(st.text() | st.text(alphabet=" abz\t\n\x1b\u200b\udcc5é", max_size=4)))
def test_many_texts_are_cleaned_as_each_alone(texts: list[str]) -> None:
    assert clean_all(texts) == [clean(text) for text in texts]
