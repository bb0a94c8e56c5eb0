"""A headless browser driven by its own protocol (Chrome DevTools Protocol) over a socket of aiohttp."""

import asyncio
import base64
import itertools
import json
import re
import shutil
import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--window-size=1100,800",
)  # fmt: skip


def program() -> str | None:
    """The browser of this system."""
    return next((found for name in PROGRAMS if (found := shutil.which(name))), None)


def plain(drawn: bytes) -> str:
    """What a terminal was sent, without what steers it."""
    return re.sub(
        r"\x1b(\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(\x07|\x1b\\)|[@-Z\\^_])", "", drawn.decode("utf-8", "replace")
    )


class Browser:
    """One page of a browser; `asked` are the addresses that it asked for, `drawn` what its socket brought."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket
        self._numbers = itertools.count(1)
        self._answers: dict[int, asyncio.Future[Any]] = {}
        self.asked: list[str] = []
        self.said: list[str] = []
        self.drawn = b""
        self._more = asyncio.Event()
        self._reader = asyncio.create_task(self._read())

    async def _read(self) -> None:
        async for message in self._socket:
            told = json.loads(message.data)
            if "id" in told:
                self._answers.pop(told["id"]).set_result(told.get("result", told))
            elif told["method"] == "Network.requestWillBeSent":
                self.asked.append(told["params"]["request"]["url"])
            elif told["method"] == "Network.webSocketCreated":
                self.asked.append(told["params"]["url"])
            elif told["method"] == "Network.webSocketFrameReceived" and told["params"]["response"]["opcode"] == 2:
                self.drawn += base64.b64decode(told["params"]["response"]["payloadData"])
                self._more.set()
            elif told["method"] == "Log.entryAdded":
                self.said.append(told["params"]["entry"]["text"])

    async def do(self, method: str, **params: Any) -> Any:
        """One command of the protocol."""
        number = next(self._numbers)
        answer = self._answers[number] = asyncio.get_running_loop().create_future()
        await self._socket.send_json({"id": number, "method": method, "params": params})
        return await asyncio.wait_for(answer, 30)

    async def value(self, script: str) -> Any:
        """What a script in the page gives."""
        told = await self.do("Runtime.evaluate", expression=script, returnByValue=True)
        return told.get("result", {}).get("value")

    async def until(self, script: str, seconds: float = 30) -> Any:
        """Ask until a script gives something true."""
        for _ in range(int(seconds / 0.1)):
            if found := await self.value(script):
                return found
            await asyncio.sleep(0.1)  # the page tells nobody when it has drawn
        raise AssertionError(
            f"{script}: not within {seconds} s; the page: {await self.value('document.body.innerText')}"
        )

    async def shows(self, says: str, seconds: float = 30) -> None:
        """Wait until the app in the page has drawn this."""
        while says not in plain(self.drawn):
            self._more.clear()
            try:
                await asyncio.wait_for(self._more.wait(), seconds)
            except TimeoutError:
                page = await self.value("document.body.innerText")
                raise AssertionError(f"{says!r}: not drawn; the page: {page}; {plain(self.drawn)[-500:]}") from None

    async def key(self, text: str) -> None:
        """A key that writes a sign."""
        for kind in ("keyDown", "keyUp"):
            await self.do("Input.dispatchKeyEvent", type=kind, text=text if kind == "keyDown" else "", key=text)


@asynccontextmanager
async def browser() -> AsyncIterator[Browser]:
    """A browser with an empty profile, and one page in it."""
    folder = tempfile.mkdtemp(prefix="reelcare-browser-")
    process = await asyncio.create_subprocess_exec(
        str(program()), *QUIET, f"--user-data-dir={folder}", "--remote-debugging-port=0", "about:blank",
        stdout=asyncio.subprocess.DEVNULL, stderr=asyncio.subprocess.DEVNULL,
    )  # fmt: skip
    port = Path(folder) / "DevToolsActivePort"
    try:
        for _ in range(300):
            if port.exists() and port.read_text().count("\n"):
                break
            await asyncio.sleep(0.05)  # it tells its port by a file
        at = f"http://127.0.0.1:{port.read_text().splitlines()[0]}"
        async with aiohttp.ClientSession() as session:
            async with session.get(f"{at}/json/list") as answer:
                page = next(one for one in await answer.json() if one["type"] == "page")
            async with session.ws_connect(page["webSocketDebuggerUrl"], max_msg_size=0) as socket:
                one = Browser(socket)
                for domain in ("Network", "Page", "Runtime", "Log"):
                    await one.do(f"{domain}.enable")
                yield one
                one._reader.cancel()
    finally:
        process.terminate()
        await process.wait()
        shutil.rmtree(folder, ignore_errors=True)
