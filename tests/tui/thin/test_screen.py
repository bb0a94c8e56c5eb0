"""What is thinned shows the same as the whole: cell by cell, with style and cursor, in a terminal that is not ours."""

from collections.abc import Sequence

import pytest
import wcwidth
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from reelcare.tui.thin import talk
from reelcare.tui.thin.pen import Pen, change, drawn_with
from reelcare.tui.thin.screen import Screen
from reelcare.tui.thin.signs import width
from tests.tui.thin.emulator import Emulator

WIDTH, HEIGHT = 14, 5
BEGIN = "\x1b[?1049h\x1b[?25l\x1b[?7l"

SIGNS = st.sampled_from([*"ab   ■─", "水", "ガ", "é", "e\u0301", "水\u0301", "n\u0303\u0323"])
ODD = st.sampled_from(["😀", "\u0301", "👩\u200d🌾", "\u2764\ufe0f", "\u00ad", "🇪🇸"])
"""Signs of which terminals do not agree, or marks that come alone."""
CODES = st.sampled_from(
    ["", "0", "1", "97;40", "1;37;40", "4;37", "7", "9;31",
     "22", "24", "27", "38;5;9", "48;2;1;2;3", "39;49", "100"]
)  # fmt: skip
PENS = CODES.map("\x1b[{}m".format)
LINKS = st.sampled_from(["\x1b]8;;\x1b\\", "\x1b]8;id=1;http://x\x1b\\"])
PLACES = st.builds("\x1b[{};{}H".format, st.integers(1, HEIGHT), st.integers(1, WIDTH))


def strip(place: str, pieces: Sequence[tuple[str, str]]) -> str:
    """A piece of a line, as the framework sends it: where, and texts between a pen and a reset."""
    return place + "".join(f"{pen}{text}\x1b[0m" for pen, text in pieces)


TEXTS = st.lists(SIGNS, max_size=WIDTH // 2).map("".join)
STRIPS = st.builds(strip, PLACES, st.lists(st.tuples(PENS, TEXTS), max_size=4))
FRAMES = st.lists(STRIPS, max_size=6).map("\n".join).map(lambda frame: frame + "\x1b[1;1H")
WHOLE = st.tuples(CODES, st.sampled_from("  a─")).map(
    lambda way: "\n".join(f"\x1b[{row + 1};1H\x1b[{way[0]}m{way[1] * WIDTH}\x1b[0m" for row in range(HEIGHT))
)
"""A frame of the whole screen in one colour."""
CONTROLS = st.sampled_from(
    [
        "\r", "\n", "\r\n", "\b", "\t", "\a", "\x1b[2J", "\x1b[J", "\x1b[K", "\x1b[1K", "\x1b[3X", "\x1b[2P", "\x1b[2@",
        "\x1b[L", "\x1b[M", "\x1b[2A", "\x1b[B", "\x1b[3C", "\x1b[2D", "\x1b[4G", "\x1b[2d", "\x1bM", "\x1bD",
        "\x1b[?25h", "\x1b[?25l", "\x1b[?7h", "\x1b[?7l", "\x1b[99;99H", "\x1b]2;title\x07", "\x1b[?2026h",
        "\x1b[?2026l", "\x1b[?2048$p", "\x1b[>25u", "\x1b[<u", "\x1b[6n", "\x1b[c", "\x1b[4h", "\x1b[2;4r",
        "\x1b[?69h", "\x1b7", "\x1b8", "\x1bc", "\x1b[58;5;1m", "\x1b(0", "\x1b(B", "\x0e", "\x0f", "\x1b[?1049h",
        "\x1b[?1049l",
    ]
)  # fmt: skip
ANYTHING = st.lists(st.one_of(TEXTS, ODD, PENS, LINKS, PLACES, STRIPS, CONTROLS, CONTROLS), max_size=12).map("".join)


class Pair:
    """Two terminals: one is sent everything, the other what is left of it."""

    def __init__(self, *, erases_in_colour: bool = True) -> None:
        self.whole, self.thin = Emulator(WIDTH, HEIGHT), Emulator(WIDTH, HEIGHT)
        self.screen = Screen(WIDTH, HEIGHT, erases_in_colour=erases_in_colour)
        self.say(BEGIN)

    def say(self, text: str) -> str:
        """Send a text to both; what the second was sent."""
        self.whole.feed(text)
        thinned = self.screen.thin(text)
        self.thin.feed(thinned)
        assert self.thin.seen() == self.whole.seen(), (text, thinned)
        return thinned

    def resize(self, width: int, height: int) -> None:
        """Give both another size."""
        for one in (self.whole, self.thin):
            one.screen.resize(height, width)
        self.screen.resize(width, height)


@given(st.lists(st.one_of(FRAMES, WHOLE), max_size=8), st.booleans())
def test_frames_show_the_same(frames: list[str], erases_in_colour: bool) -> None:
    pair = Pair(erases_in_colour=erases_in_colour)
    for frame in frames:
        pair.say(frame)


@given(st.lists(st.one_of(FRAMES, WHOLE, ANYTHING), max_size=8), st.booleans())
def test_whatever_comes_shows_the_same(texts: list[str], erases_in_colour: bool) -> None:
    pair = Pair(erases_in_colour=erases_in_colour)
    for text in texts:
        pair.say(text)


def test_a_mark_that_comes_where_the_cursor_is_unknown_shows_the_same() -> None:
    pair = Pair(erases_in_colour=False)
    pair.say("\n".join(f"\x1b[{row + 1};1H\x1b[1m{' ' * WIDTH}\x1b[0m" for row in range(HEIGHT)))
    pair.say("a\r\u0301")


@given(st.lists(st.tuples(FRAMES, st.integers(4, WIDTH + 6), st.integers(2, HEIGHT + 3)), max_size=5))
def test_after_another_size_it_shows_the_same(steps: list[tuple[str, int, int]]) -> None:
    pair = Pair()
    for frame, across, down in steps:
        pair.say(frame)
        pair.resize(across, down)
        pair.say(frame)
        pair.say(frame)


@given(st.lists(FRAMES, min_size=1, max_size=5), st.data())
def test_texts_may_come_cut_in_pieces(frames: list[str], data: st.DataObject) -> None:
    text = "".join(frames)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(text)), max_size=4)))
    pair, screen, sent = Pair(), Screen(WIDTH, HEIGHT), Emulator(WIDTH, HEIGHT)
    sent.feed(screen.thin(BEGIN))
    for first, last in zip([0, *cuts], [*cuts, len(text)], strict=True):
        sent.feed(screen.thin(text[first:last]))
    pair.say(text)
    assert sent.seen() == pair.whole.seen()


NARROW = TEXTS.map(lambda text: text.replace("水", "w").replace("ガ", "g"))
ROWS = st.dictionaries(st.integers(1, HEIGHT), st.lists(st.tuples(PENS, NARROW), max_size=2), min_size=1)


@given(ROWS)
def test_what_stands_there_is_not_sent_again(rows: dict[int, list[tuple[str, str]]]) -> None:
    # rows from above, within the edges, and without wide signs: what is written over a half of one needs it there first
    frame = "\n".join(strip(f"\x1b[{row};1H", rows[row]) for row in sorted(rows)) + "\x1b[1;1H"
    pair = Pair()
    pair.say(WHOLE_OF_A)
    pair.say(frame)
    assert pair.say(frame) == ""


WHOLE_OF_A = "\n".join(f"\x1b[{row + 1};1H{'a' * WIDTH}" for row in range(HEIGHT)) + "\x1b[1;1H"


@given(st.lists(FRAMES, max_size=4), st.text("xy\x1b[2J水", max_size=20))
def test_on_a_line_that_loses_bytes_all_is_sent_again_when_asked_for(frames: list[str], noise: str) -> None:
    pair = Pair()
    pair.say(WHOLE_OF_A)
    for frame in frames:
        pair.say(frame)
    if any(None in line for line in pair.screen._terminal.wanted):
        return  # a half of a wide sign: the app draws all cells anew beside this
    pair.thin.feed(f"\x1b[2;2H\x1b[41m{noise}\x1b[m")
    pair.screen.doubt()
    pair.thin.feed(pair.screen.thin(""))
    cells, _ = pair.thin.seen()
    assert cells == pair.whole.seen()[0]


def test_a_mark_behind_the_last_column_shows_the_same_where_lines_wrap() -> None:
    pair = Pair()
    for text in ("\x1b[?7h", "\x1b[2;1H" + "a" * WIDTH + "\u0301\x1b[1;1H"):
        pair.say(text)


def test_on_a_line_that_loses_modes_they_are_told_again_as_they_were_told_last() -> None:
    pair = Pair()
    told = ["\x1b[?1000h", "\x1b[?1003h", "\x1b[?2004h", "\x1b[?2026h", "\x1b[?2026l", "\x1b[?1000l", "\x1b[6n"]
    for text in (*told, WHOLE_OF_A):
        pair.say(text)
    pair.thin.feed("\x1b[?25h\x1b[?7h")
    pair.screen.doubt()
    again = pair.screen.thin("")
    assert again.startswith("\x1b[?25l\x1b[?7l\x1b[?1003h\x1b[?2004h\x1b[?1000l\x1b[H\x1b[maaa")
    pair.thin.feed(again)
    assert pair.thin.seen() == pair.whole.seen()
    assert pair.thin.screen.mode == pair.whole.screen.mode
    assert pair.screen.thin("") == ""  # once


def test_modes_are_told_again_only_where_the_screen_is_ours() -> None:
    screen = Screen(WIDTH, HEIGHT)
    screen.doubt()
    assert screen.thin("") == ""
    screen.thin(f"{BEGIN}\x1b[?1049l\x1b[?25h")
    screen.doubt()
    assert screen.thin("") == ""


def test_before_the_cursor_is_lost_blanks_are_sent_whole_and_once() -> None:
    pair = Pair()
    pair.say(WHOLE_OF_A)
    assert pair.say("\x1b[1;1H\x1b[1m    \x1b[m") == "    "  # with the pen at hand, which looks the same on them
    assert pair.say("\x1b[99;99H") == "\r\x1b[1m    \x1b[m\x1b[99;99H"
    assert pair.say("\x1b[1;5H\x1b[99;99H") == "\x1b[;5H\x1b[99;99H"


def test_a_sign_of_unknown_width_costs_the_blanks_of_its_row_alone() -> None:
    pair = Pair()
    frame = "\n".join(f"\x1b[{row + 1};1H\x1b[1ma   b\x1b[0m" for row in range(HEIGHT)) + "\x1b[1;1H"
    pair.say(WHOLE_OF_A)
    pair.say(frame)
    odd = frame.replace("\x1b[2;1H\x1b[1ma ", "\x1b[2;1H\x1b[1m😀")
    thinned = pair.say(odd)
    assert "\n" in thinned
    assert thinned.count("a") == 0
    assert thinned.count("b") == 1
    assert pair.say(odd).count("b") == 1


@pytest.mark.parametrize(("pen", "after"), [("\x1b[1m", "\x1b[m"), ("", "\x1b[1;91m")])
def test_a_mark_on_a_blank_has_the_colour_of_that_blank(pen: str, after: str) -> None:
    pair = Pair()
    for text in ("\x1b[1;1Ha", pen, f"\x1b[2;1H{after}a  ", "\u0301"):
        pair.say(text)


def test_a_frame_that_changes_one_sign_is_a_move_and_that_sign() -> None:
    pair = Pair()
    pair.say(WHOLE_OF_A)
    changed = WHOLE_OF_A.replace("\x1b[3;1Haaaa", "\x1b[3;1Haaxa")
    assert pair.say(changed) == "\x1b[3;3Hx\x1b[H"


@pytest.mark.parametrize(("erases_in_colour", "clears"), [(True, True), (False, False)])
def test_colour_is_erased_only_where_the_terminal_does_so(erases_in_colour: bool, clears: bool) -> None:
    pair = Pair(erases_in_colour=erases_in_colour)
    frame = "\n".join(f"\x1b[{row + 1};1H\x1b[40m{' ' * WIDTH}\x1b[0m" for row in range(HEIGHT))
    assert ("\x1b[J" in pair.say(frame)) is clears


@pytest.mark.parametrize(
    "text",
    ["\x1b[?2026$p", "\x1b[?2048$p", "\x1b[6n", "\x1b[c", "\x1b[>c", "\x1b[5n", "\x07", "\x1b]2;yard\x07",
     "\x1b[?1003h", "\x1b[?1003l", "\x1b[?2004h", "\x1b[?2026h", "\x1b]52;c;YQ==\x07", "\x1b]22;text\x07"],
)  # fmt: skip
def test_what_touches_nothing_goes_out_as_it_came_and_costs_no_cell(text: str) -> None:
    pair = Pair()
    pair.say(WHOLE_OF_A)
    assert pair.say(text) == text
    assert pair.say(WHOLE_OF_A) == ""


@pytest.mark.parametrize(
    "text", ["\x1b[2J", "\x1b[2L", "\x1b[S", "\x1bM", "\x1b[5H\n", "\x1b[4h", "\x1b[?1049h", "\x1bP0q\x1b\\"]
)
def test_after_what_touches_cells_all_cells_are_sent(text: str) -> None:
    screen = Screen(WIDTH, HEIGHT)
    screen.thin(BEGIN + WHOLE_OF_A)
    assert screen.thin(text).endswith(text)
    assert screen.thin(WHOLE_OF_A).count("a") == WIDTH * HEIGHT


def test_nothing_is_taken_out_before_the_screen_is_entered_and_after_it_is_left() -> None:
    screen = Screen(WIDTH, HEIGHT)
    assert screen.thin(WHOLE_OF_A * 2) == WHOLE_OF_A * 2
    screen.thin(BEGIN + WHOLE_OF_A)
    assert screen.thin("\x1b[?1049l") == "\x1b[?1049l"
    assert screen.thin(WHOLE_OF_A * 2) == WHOLE_OF_A * 2


def test_the_ends_of_links_are_kept() -> None:
    screen = Screen(WIDTH, HEIGHT)
    screen.thin(BEGIN + WHOLE_OF_A)
    opened, closed = "\x1b]8;id=1;http://x\x1b\\", "\x1b]8;;\x1b\\"
    linked = WHOLE_OF_A.replace("\x1b[2;1Haaa", f"\x1b[2;1H{opened}aaa{closed}")
    assert screen.thin(linked) == f"\r\n{opened}aaa\x1b[H{closed}"
    assert screen.thin(linked) == ""
    assert screen.thin(WHOLE_OF_A) == "\r\naaa\x1b[H"


def test_signs_have_the_width_that_two_other_tables_give_them() -> None:
    sure = {sign: cells for sign in map(chr, range(0x110000)) if (cells := width(sign)) is not None}
    assert len(sure) > 30_000
    assert {sign: cells for sign, cells in sure.items() if wcwidth.wcwidth(sign) != cells} == {}
    assert {sign: cells for sign, cells in sure.items() if cell_len(sign) != cells} == {}


CODE_LISTS = st.lists(CODES, min_size=1, max_size=4).map(";".join)


@given(CODE_LISTS, CODE_LISTS)
def test_a_change_of_pen_is_no_longer_than_a_reset_and_draws_the_same(first: str, second: str) -> None:
    before, after = drawn_with(Pen(), first), drawn_with(Pen(), second)
    assert before is not None
    assert after is not None
    assert len(change(before, after)) <= len(change(None, after))
    one, other = Emulator(9, 2), Emulator(9, 2)
    one.feed(f"\x1b[{first}mx{change(before, after)}y")
    other.feed(f"\x1b[{first}mx\x1b[0m\x1b[{second}my")
    assert one.seen() == other.seen()


@given(st.tuples(st.integers(0, 4), st.integers(0, 14)), st.tuples(st.integers(0, 4), st.integers(0, 13)))
def test_a_move_leads_there_and_is_no_longer_than_the_straight_one(
    before: tuple[int, int], after: tuple[int, int]
) -> None:
    emulator = Emulator(WIDTH, HEIGHT)
    emulator.feed(f"\x1b[?7l\x1b[{before[0] + 1};{min(before[1], 13) + 1}H" + ("x" if before[1] == 14 else ""))
    way = talk.move(before, after, WIDTH)
    emulator.feed(way)
    assert (emulator.screen.cursor.y, emulator.screen.cursor.x) == after
    assert len(way) <= len(talk.move(None, after, WIDTH))
