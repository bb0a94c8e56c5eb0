"""`serve` refuses in one line what cannot be served, and warns where others can listen."""

from pathlib import Path
from typing import Any

import pytest

from reelcare import installation
from reelcare.cli.keep import serve
from reelcare.tui.browser import server


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Any, ...]]:
    """What the server would have been started with."""
    calls: list[tuple[Any, ...]] = []

    def start(*what: Any, **more: Any) -> None:
        calls.append((*what, more))
        more["tell"]("it is served")

    monkeypatch.setattr(server, "serve", start)
    return calls


def test_without_the_extra_the_cure_is_named(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serve, "find_spec", lambda _: None)
    told = farm("serve")
    assert told.code == 2
    assert installation.adds("serve") in told.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--host", "0.0.0.0"], "name one address of this computer"),
        (["--host", "::"], "name one address of this computer"),
        (["--host", ""], "name one address of this computer"),
        (["--port", "65536"], "1 to 65535"),
        (["--port", "x"], "1 to 65535"),
    ],
)
def test_what_cannot_be_served_is_refused(farm: Any, started: list[Any], words: list[str], says: str) -> None:
    told = farm("serve", *words)
    assert (told.code, started) == (2, [])
    assert says in told.err


def test_to_look_only_and_to_write_are_not_both(farm: Any, started: list[Any]) -> None:
    assert farm("--view", "serve", "--write").code == 2
    assert not started


def test_no_register_is_made(cli: Any, started: list[Any], tmp_path: Path) -> None:
    told = cli("serve")
    assert (told.code, started) == (3, [])
    assert not (tmp_path / "register.db").exists()


@pytest.mark.parametrize(("host", "warned"), [("127.0.0.1", False), ("127.0.0.2", False), ("192.168.1.20", True)])
def test_others_are_warned_of(farm: Any, started: list[Any], host: str, warned: bool) -> None:
    told = farm("serve", "--host", host)
    assert ("nothing is encrypted" in told.err) is warned
    assert told.err.endswith("view only; --write allows writing\nit is served\n")
    assert started[0][1] == host


def test_it_is_handed_on_how_a_person_wants_the_app(farm: Any, started: list[Any], tmp_path: Path) -> None:
    farm("--units", "us", "--slow", "--ascii", "--machine", "R1", "serve", "--write")
    where, _, port, more = started[0]
    assert (where, port, more["writes"]) == (tmp_path / "register.db", 8765, True)
    assert more["options"] == ["--units", "us", "--language", "en", "--machine", "R1", "--slow", "--ascii"]


def test_a_port_that_is_taken_is_told(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def taken(*_: Any, **__: Any) -> None:
        raise OSError(98, "address already in use")

    monkeypatch.setattr(server, "serve", taken)
    told = farm("serve")
    assert told.code == 2
    assert "127.0.0.1 port 8765 cannot be used (address already in use)" in told.err
