"""The app in a browser: who has the address is let in, once; nobody else sees or drives anything."""

import asyncio
import os
import signal
import socket as sockets
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from aiohttp.test_utils import TestServer

from reelcare.tui.browser import server
from reelcare.tui.browser.server import COOKIE, Gate

DEAF = """
import os, time
body = str(os.getpid()).encode()
os.write(1, b"__GANGLION__\\n" + b"D" + len(body).to_bytes(4, "big") + body)
time.sleep(600)
"""
"""A program in the app's place: it says its number as a browser would be told, and hears nothing."""


@asynccontextmanager
async def gate(tmp_path: Path, **more: Any) -> AsyncIterator[tuple[Gate, aiohttp.ClientSession, str, list[str]]]:
    """A server that runs something harmless in place of the app, and a client without cookies of its own."""
    told: list[str] = []
    one = Gate(more.pop("host", "127.0.0.1"), 0, writes=False, options=[], tell=told.append)
    one.words = (sys.executable, "-c", DEAF)
    for name, value in more.items():
        setattr(one, name, value)
    server = TestServer(await one._make_app(), host="127.0.0.1")
    await server.start_server()
    one.port = server.port or 0
    one.public_url = f"http://127.0.0.1:{one.port}"
    try:
        async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as client:
            yield one, client, one.public_url, told
    finally:
        await server.close()


@pytest.fixture(autouse=True)
def _no_grace(monkeypatch: pytest.MonkeyPatch) -> None:
    """What hears nothing is not waited for."""
    monkeypatch.setattr(server, "GRACE", 0.01)


async def test_the_token_opens_once_and_leaves_a_cookie_that_scripts_cannot_read(tmp_path: Path) -> None:
    async with gate(tmp_path) as (one, client, at, told):
        address = one.address
        async with client.get(address, allow_redirects=False) as answer:
            assert answer.status == 200
            cookie = answer.headers["Set-Cookie"]
            assert "HttpOnly" in cookie
            assert "SameSite=Strict" in cookie
            assert answer.headers["Cache-Control"] == "no-store"
            assert "token" not in await answer.text()
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
    "path",
    ["/", "/?token=", "/?token=wrong", "/?token=%ff", "/ws", "/page.js", "/static/js/textual.js", "/download/x", "/x"],
)
async def test_without_the_token_nothing_is_shown(tmp_path: Path, path: str) -> None:
    async with gate(tmp_path) as (_, client, at, _), client.get(at + path, allow_redirects=False) as answer:
        assert answer.status == 403
        assert "textual" not in await answer.text()


async def test_who_only_asks_with_head_uses_no_token_up(tmp_path: Path) -> None:
    """RFC 9110, 9.2.1: HEAD is safe; mail programs and chats ask with it for addresses that they are sent."""
    async with gate(tmp_path) as (one, client, _, told):
        address = one.address
        async with client.head(address, allow_redirects=False) as answer:
            assert answer.status == 200
            assert "Set-Cookie" not in answer.headers
        assert not told
        async with client.get(address, allow_redirects=False) as answer:
            assert answer.status == 200
            assert "Set-Cookie" in answer.headers


async def test_no_folder_is_listed(tmp_path: Path) -> None:
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        for path in ("/static", "/static/", "/static/js", "/static/js/", "/static/css/../js"):
            async with client.get(at + path) as answer:
                assert answer.status == 404, path
                assert "textual.js" not in await answer.text()
        async with client.get(f"{at}/static/js/textual.js") as answer:
            assert answer.status == 200


async def test_a_guessed_cookie_is_none(tmp_path: Path) -> None:
    async with gate(tmp_path) as (one, client, at, _):
        assert one.cookie == f"{COOKIE}-{one.port}"
        for guess in ("guessed", "\udcff", ""):
            async with client.get(at, headers={"Cookie": f"{one.cookie}={guess}"}) as answer:
                assert answer.status == 403


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:80", "127.0.0.1.evil.example", "", ":", "127.0.0.1:x", "localhost:" + "9" * 6000],
)
async def test_another_name_for_this_computer_is_refused(tmp_path: Path, host: str) -> None:
    """A page elsewhere whose name is made to point here (DNS rebinding) gets nothing."""
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        async with client.get(at, headers={"Host": host}) as answer:
            assert answer.status == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1", None])
async def test_a_socket_from_another_page_is_refused(tmp_path: Path, origin: str | None) -> None:
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await client.ws_connect(f"{at}/ws", origin=origin)
        assert refused.value.status == 403
        async with client.ws_connect(f"{at}/ws", origin=at) as socket:
            assert not socket.closed


async def test_no_more_sessions_than_can_be_served(tmp_path: Path) -> None:
    async with gate(tmp_path, _running=8) as (one, client, at, _):
        async with client.get(one.address):
            pass
        with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
            await client.ws_connect(f"{at}/ws", origin=at)
        assert refused.value.status == 503


async def test_through_a_tunnel_the_port_is_another_and_the_page_asks_there(tmp_path: Path) -> None:
    """`ssh -L 9000:127.0.0.1:8765`: the browser knows 9000 alone. A page on another port is still another page."""
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        there = {"Host": "localhost:9000"}
        async with client.get(at, headers=there) as answer:
            page = await answer.text()
            assert 'url="ws://localhost:9000/ws"' in page
            assert "http://" not in page
            assert "connect-src 'self' ws://localhost:9000;" in answer.headers["Content-Security-Policy"]
        with pytest.raises(aiohttp.WSServerHandshakeError):
            await client.ws_connect(f"{at}/ws", origin="http://localhost:9001", headers=there)
        async with client.ws_connect(f"{at}/ws", origin="http://localhost:9000", headers=there) as socket:
            assert not socket.closed


async def test_where_others_reach_it_only_its_own_name_and_port_will_do(tmp_path: Path) -> None:
    async with gate(tmp_path, host="Shop.example") as (one, client, at, _):
        for host, status in (("shop.example", 200), ("localhost", 403), ("other.example", 403)):
            async with client.get(at, params={"token": one._token}, headers={"Host": f"{host}:{one.port}"}) as answer:
                assert answer.status == status, host
        async with client.get(at, params={"token": one._token}, headers={"Host": "shop.example"}) as answer:
            assert answer.status == 403  # that is port 80


async def test_a_session_ends_with_its_socket_even_where_the_app_hears_nothing(tmp_path: Path) -> None:
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        async with client.ws_connect(f"{at}/ws", origin=at) as socket:
            number = int(await socket.receive_bytes())
            os.kill(number, 0)  # it is there
            assert one._running == 1
        while one._running:
            await asyncio.sleep(0)
        with pytest.raises(ProcessLookupError):
            os.kill(number, 0)


async def test_sessions_end_with_the_server(tmp_path: Path) -> None:
    async with gate(tmp_path) as (one, client, at, _):
        async with client.get(one.address):
            pass
        socket = await client.ws_connect(f"{at}/ws", origin=at)
        number = int(await socket.receive_bytes())
    with pytest.raises(ProcessLookupError):
        os.kill(number, 0)


async def test_the_page_is_told_when_the_app_has_ended(tmp_path: Path) -> None:
    async with gate(tmp_path, words=(sys.executable, "-c", "pass")) as (one, client, at, _):
        async with client.get(one.address):
            pass
        async with client.ws_connect(f"{at}/ws", origin=at) as socket:
            assert (await socket.receive()).type == aiohttp.WSMsgType.CLOSE


async def test_no_address_is_told_where_nobody_listens() -> None:
    with sockets.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        told: list[str] = []
        one = Gate("127.0.0.1", taken.getsockname()[1], writes=False, options=[], tell=told.append)
        with pytest.raises(OSError, match="in use"):
            await one._until_stopped()
    assert not told


async def test_a_signal_stops_it_without_a_word_more() -> None:
    told: list[str] = []

    def stop(says: str) -> None:
        told.append(says)
        os.kill(os.getpid(), signal.SIGTERM)  # as soon as it listens

    await Gate("127.0.0.1", 0, writes=False, options=[], tell=stop)._until_stopped()
    [says] = told
    assert "127.0.0.1:0/" not in says  # the port is the one that it was given


def test_the_command_looks_only_and_names_no_register() -> None:
    one = Gate("127.0.0.1", 8765, writes=False, options=["--units", "us"], tell=print)
    assert one.words[1:] == ("-m", "reelcare", "--units", "us", "--view")
    assert "--view" not in Gate("127.0.0.1", 8765, writes=True, options=[], tell=print).words
    assert Gate("::1", 8765, writes=True, options=[], tell=print).public_url == "http://[::1]:8765"
