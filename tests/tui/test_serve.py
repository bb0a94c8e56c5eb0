"""The app in a browser: who has the address is let in, once; nobody else sees or drives anything."""

import asyncio
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from aiohttp.test_utils import TestServer

from reelcare.register.demo import build
from reelcare.register.register import Register
from reelcare.tui import serve
from reelcare.tui.serve import COOKIE, Gate
from tests.tui.browser import browser, program


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serve, "PATIENCE", 0.1)


@asynccontextmanager
async def gate(tmp_path: Path, **more: Any) -> AsyncIterator[tuple[Gate, aiohttp.ClientSession, str, list[str]]]:
    """A server that runs something harmless in place of the app, and a client without cookies of its own."""
    told: list[str] = []
    one = Gate("127.0.0.1", 0, writes=False, options=[], tell=told.append)
    one.command = f"exec {sys.executable} -c 'import time; time.sleep(60)'"
    for name, value in more.items():
        setattr(one, name, value)
    server = TestServer(await one._make_app(), host="127.0.0.1")
    await server.start_server()
    one.port = server.port or 0
    one.public_url = f"http://127.0.0.1:{one.port}"
    async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as client:
        yield one, client, one.public_url, told
    await server.close()


async def test_the_token_opens_once_and_leaves_a_cookie_that_scripts_cannot_read(tmp_path: Path) -> None:
    async with gate(tmp_path) as (one, client, at, told):
        address = one.address
        async with client.get(address, allow_redirects=False) as answer:
            assert answer.status == 303
            cookie = answer.headers["Set-Cookie"]
            assert "HttpOnly" in cookie
            assert "SameSite=Strict" in cookie
            assert answer.headers["Location"] == "/"
        async with client.get(at) as answer:
            assert answer.status == 200
            page = await answer.text()
            assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
            assert answer.headers["Cache-Control"] == "no-store"
        assert "token" not in page
        assert "googleapis" not in page
        async with aiohttp.ClientSession() as other, other.get(address, allow_redirects=False) as answer:
            assert answer.status == 403
        # and the next browser gets an address of its own
        assert one.address in told[-1]
        assert one.address != address


@pytest.mark.parametrize(
    "path", ["/", "/?token=", "/?token=wrong", "/ws", "/static/js/textual.js", "/download/x", "/x"]
)
async def test_without_the_token_nothing_is_shown(tmp_path: Path, path: str) -> None:
    async with gate(tmp_path) as (_, client, at, _), client.get(at + path, allow_redirects=False) as answer:
        assert answer.status == 403
        assert "textual" not in await answer.text()


async def test_a_guessed_cookie_is_none(tmp_path: Path) -> None:
    async with gate(tmp_path) as (_, client, at, _), client.get(at, cookies={COOKIE: "guessed"}) as answer:
        assert answer.status == 403


@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1.evil.example", ""])
async def test_another_name_for_this_computer_is_refused(tmp_path: Path, host: str) -> None:
    """A page elsewhere whose name is made to point here (DNS rebinding) gets nothing."""
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        async with client.get(at, headers={"Host": host}) as answer:
            assert answer.status == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", None])
async def test_a_socket_from_another_page_is_refused(tmp_path: Path, origin: str | None) -> None:
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await client.ws_connect(f"{at}/ws", origin=origin)
        assert refused.value.status == 403
        async with client.ws_connect(f"{at}/ws", origin=at) as socket:
            assert not socket.closed


async def test_the_app_of_a_browser_ends_with_its_socket(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sessions: list[serve.Session] = []
    start = serve.Session.start

    async def started(self: serve.Session, width: int, height: int) -> None:
        sessions.append(self)
        await start(self, width, height)

    monkeypatch.setattr(serve.Session, "start", started)
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        async with client.ws_connect(f"{at}/ws?width=99999&height=x", origin=at):
            pass
        while not sessions or sessions[0]._process is None or sessions[0]._process.returncode is None:
            await asyncio.sleep(0.01)  # it ends within its patience


async def test_no_more_sessions_than_can_be_served(tmp_path: Path) -> None:
    async with gate(tmp_path, _running=8) as (one, client, at, _):
        async with client.get(one.address):
            pass
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await client.ws_connect(f"{at}/ws", origin=at)
        assert refused.value.status == 503


def test_the_command_looks_only_and_names_no_register() -> None:
    one = Gate("127.0.0.1", 8765, writes=False, options=["--units", "us"], tell=print)
    assert one.command.endswith(" -m reelcare --units us --view")
    assert "--view" not in Gate("127.0.0.1", 8765, writes=True, options=[], tell=print).command
    assert Gate("::1", 8765, writes=True, options=[], tell=print).public_url == "http://[::1]:8765"


@pytest.mark.long
@pytest.mark.skipif(program() is None, reason="no browser is here")
async def test_a_browser_shows_the_yard_asks_nobody_else_and_may_only_look(tmp_path: Path) -> None:
    path = tmp_path / "demo.db"
    with Register(path) as register:
        build(register, datetime.now(UTC))
    server = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "reelcare", "--register", str(path), "serve", "--port", "18765",
        stderr=asyncio.subprocess.PIPE,
    )  # fmt: skip
    assert server.stderr is not None
    told = ""
    while "token=" not in told:
        told = (await server.stderr.readline()).decode()
    try:
        async with browser() as one:
            await one.do("Page.navigate", url=told.rpartition(": ")[2].strip())
            await one.until("document.body.classList.contains('-first-byte')")
            assert {address.split("/")[2] for address in one.asked} == {"127.0.0.1:18765"}
            listed = Path("/proc").glob("[0-9]*/cmdline")
            assert not any(b"token" in one.read_bytes() for one in listed if one.exists())
            assert not [text for text in one.said if "refused" in text.lower() or "violates" in text.lower()]
    finally:
        server.terminate()
        await server.wait()
