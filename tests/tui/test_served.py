"""The app behind the page, as it really is: a browser, the program `reelcare serve`, and one process for each page."""

import asyncio
import os
import re
import signal
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import aiohttp
import pytest
from aiohttp import web
from textual.drivers.web_driver import WebDriver

from reelcare.register.demo import build
from reelcare.register.opening import open_writer
from reelcare.tui.browser import served as served_app
from tests.register.conftest import sql
from tests.tui.browser import Browser, browser, plain, program

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="looks at the processes of Linux"),
]


@dataclass
class Served:
    """A server that runs: its process, where it is, and what it has said."""

    process: asyncio.subprocess.Process
    path: Path
    at: str = ""
    told: list[str] = field(default_factory=list)

    async def address(self) -> str:
        """The next address that it tells."""
        assert self.process.stderr is not None
        while line := (await self.process.stderr.readline()).decode():
            self.told.append(line)
            if "token=" in line:
                return line.rpartition(": ")[2].strip()
        raise AssertionError(f"it ended: {self.told}")

    def apps(self) -> set[int]:
        """The numbers of the processes that it has started."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        return {int(one) for one in children.read_text().split()}

    def entries(self) -> int:
        """How many entries the register holds."""
        with open_writer(self.path, create=False) as register:
            return int(sql(register.db, "SELECT COUNT(*) FROM entry")[0][0])


@asynccontextmanager
async def served(tmp_path: Path, *more: str) -> AsyncIterator[Served]:
    """`reelcare serve` on a demo estate, at any port that is free."""
    path = tmp_path / "demo.db"
    with open_writer(path) as register:
        build(register, datetime.now(UTC))
        register.give_pin("Marta", "739104", by="Marta")
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "reelcare", "--register", str(path), "serve", "--port", "0", *more,
        stderr=asyncio.subprocess.PIPE,
    )  # fmt: skip
    try:
        yield Served(process, path)
    finally:
        if process.returncode is None:
            process.terminate()
        await process.wait()


async def until(socket: aiohttp.ClientWebSocketResponse, says: str) -> str:
    """All that the app draws until it has drawn this."""
    seen = b""
    while says not in plain(seen):
        message = await socket.receive(30)
        assert message.type in (aiohttp.WSMsgType.BINARY, aiohttp.WSMsgType.TEXT), (message, plain(seen)[-300:])
        seen += message.data if isinstance(message.data, bytes) else b""
    return plain(seen)


@asynccontextmanager
async def socket_of(one: Served) -> AsyncIterator[aiohttp.ClientWebSocketResponse]:
    """A socket as the page opens it."""
    address = await one.address()
    at = address.partition("/?")[0]
    async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as client:
        async with client.get(address):
            pass
        async with client.ws_connect(f"{at}/ws", origin=at) as socket:
            yield socket


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
async def test_the_app_ends_with_its_server_however_that_ends(tmp_path: Path, how: signal.Signals) -> None:
    async with served(tmp_path) as one, socket_of(one) as socket:
        await until(socket, "all places")
        [number] = one.apps()
        gone = os.pidfd_open(number)
        ended = asyncio.Event()
        asyncio.get_running_loop().add_reader(gone, ended.set)
        one.process.send_signal(how)
        await asyncio.wait_for(ended.wait(), 30)
        asyncio.get_running_loop().remove_reader(gone)
        os.close(gone)
        assert await one.process.wait() == (-how if how == signal.SIGKILL else 0)
        assert one.process.stderr is not None
        left = (await one.process.stderr.read()).decode()
        assert "Traceback" not in left


async def test_where_writing_was_asked_for_the_app_asks_for_the_pin(tmp_path: Path) -> None:
    async with served(tmp_path, "--write") as one, socket_of(one) as socket:
        assert "view only" not in await until(socket, "all places")
        await socket.send_json(["stdin", "p"])
        await until(socket, "Marta")
        await socket.send_json(["stdin", "Marta\r"])
        assert "739104" not in await until(socket, "PIN")


@pytest.mark.skipif(program() is None, reason="no browser is here")
async def test_a_browser_shows_the_yard_asks_nobody_else_and_may_only_look(tmp_path: Path) -> None:
    async with served(tmp_path) as one, browser() as page:
        before = one.entries()
        address = await one.address()
        await page.do("Page.navigate", url=address)
        await page.shows("all places")
        await page.shows("view only")
        assert await page.value("location.href") == f"{address.partition('?')[0]}"
        await page.key("f")  # a fault would be written
        await page.shows("nothing can be written")
        await page.key("d")
        await page.shows("within 90 days")
        assert {each.split("/")[2] for each in page.asked} == {address.split("/")[2]}
        assert not [text for text in page.said if "refused" in text.lower() or "violates" in text.lower()]
        assert await page.value("document.cookie") == ""
        tokens = [address.partition("token=")[2], (await one.address()).partition("token=")[2]]
        listed = [each.read_bytes() for each in Path("/proc").glob("[0-9]*/cmdline") if _is_there(each)]
        assert any(b"--view" in each for each in listed)
        assert not any(token.encode() in each for token in tokens for each in listed)
        assert one.entries() == before


def _is_there(path: Path) -> bool:
    try:
        path.read_bytes()
    except OSError:
        return False
    return True


async def _page_with(body: str) -> tuple[web.AppRunner, str]:
    """A page of somebody else's: `localhost` is another site than 127.0.0.1."""

    async def index(_: web.Request) -> web.Response:
        return web.Response(text=f"<!DOCTYPE html><link rel=icon href=data:,>{body}", content_type="text/html")

    app = web.Application()
    app.router.add_get("/", index)
    runner = web.AppRunner(app)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    return runner, f"http://localhost:{runner.addresses[0][1]}/"


async def _shown_from(page: Browser, elsewhere: str, says: str, click: str = "") -> None:
    await page.do("Page.navigate", url=elsewhere)
    await page.until("document.readyState == 'complete' && location.hostname == 'localhost'")
    if click:
        await page.value(click)
    await page.shows(says)


FINGER = """
(() => {
  const page = document.querySelector("#terminal"), box = page.getBoundingClientRect();
  const at = (y) => [new Touch({identifier: 1, target: page, clientX: box.width / 2, clientY: y})];
  const send = (kind, y) => page.dispatchEvent(new TouchEvent(kind, {touches: at(y), bubbles: true, cancelable: true}));
  send("touchstart", box.height * 0.7); send("touchmove", box.height * 0.2); send("touchend", box.height * 0.2);
})()
"""
OVER = "document.elementFromPoint(innerWidth / 2, innerHeight / 2)?.closest('.closed') !== null"


@pytest.mark.skipif(program() is None, reason="no browser is here")
async def test_a_finger_scrolls_and_presses_keys_on_a_tablet_and_the_end_stands_over_everything(tmp_path: Path) -> None:
    async with served(tmp_path) as one, browser() as page:
        await page.do("Emulation.setDeviceMetricsOverride", width=1024, height=768, deviceScaleFactor=1, mobile=True)
        await page.do("Emulation.setTouchEmulationEnabled", enabled=True)
        await page.do("Page.navigate", url=await one.address())
        await page.shows("all places")
        assert await page.value("Number(document.querySelector('#terminal').dataset.fontSize)") >= 20
        assert await page.value("document.querySelector('.keys').getBoundingClientRect().bottom") <= 768
        low = await page.value("document.querySelector('.xterm-screen').getBoundingClientRect().bottom")
        assert low <= await page.value("document.querySelector('.keys').getBoundingClientRect().top")
        assert not await page.value(OVER)
        await page.key("d")
        await page.shows("within 90 days")
        for act in ("document.querySelector('.keys [data-key=PageDown]').click()", FINGER):
            page.drawn = b""
            await page.value(act)
            await page.until("true")
            while not page.drawn:
                await asyncio.sleep(0.1)  # the page tells nobody when it has drawn
        shot = await page.do("Page.captureScreenshot", format="png")
        assert len(shot["data"]) > 20_000, "the picture of a tablet-size page is not blank"
        one.process.terminate()
        await page.until(OVER)
        assert await page.value(f"{OVER} && document.querySelector('.closed a').offsetHeight > 0")


@pytest.mark.skipif(program() is None, reason="no browser is here")
async def test_the_address_opens_from_a_link_on_another_page_which_itself_gets_nothing(tmp_path: Path) -> None:
    async with served(tmp_path) as one, browser() as page:
        address = await one.address()
        runner, elsewhere = await _page_with(f"<a id=go href='{address}'>the yard</a>")
        try:
            await _shown_from(page, elsewhere, "all places", "document.getElementById('go').click()")
            await page.do("Page.navigate", url=elsewhere)
            await page.until("document.readyState == 'complete' && location.hostname == 'localhost'")
            socket = re.sub("^http(.*)/[?].*", r"ws\1/ws", address)
            await page.value(
                f"window.told = ''; const s = new WebSocket('{socket}');"
                "s.onopen = () => told = 'open'; s.onerror = () => told = 'refused'"
            )
            assert await page.until("window.told") == "refused"
        finally:
            await runner.cleanup()


@pytest.mark.parametrize("has_left", [True, False])
def test_an_app_that_has_left_already_is_told_nothing_more(has_left: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[object] = []
    monkeypatch.setattr(WebDriver, "run_input_thread", lambda self: None)
    driver: Any = object.__new__(served_app.Served)
    driver._of_app = SimpleNamespace(is_closed=lambda: has_left)
    driver.send_message = told.append
    driver.run_input_thread()
    assert len(told) == (0 if has_left else 1)
