"""The app in a browser, for a tablet in the yard.

The rules of this file: who has not the address with its token sees nothing. The token opens once, for one browser,
which then holds a cookie; pages and sockets of others are refused by Host and Origin. Nothing is asked of any other
server, no token is in a log or in the list of processes, and no more sessions run than can be served; each ends with
its socket, and all of them with the server. To look is the rule; to write has to be asked for when it is started.
"""

from __future__ import annotations

import asyncio
import contextlib
import hmac
import ipaddress
import os
import secrets
import signal
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import aiohttp_jinja2
from aiohttp import WSCloseCode, web
from textual_serve.app_service import AppService
from textual_serve.server import Server, to_int

from reelcare.core.text import _

COOKIE = "reelcare"
MOST_SESSIONS = 8
LARGEST = 500
"""Cells across or down that an app is ever drawn in."""
GRACE = 3.0
"""Seconds that an app has to leave, before it is ended."""
APP = {
    "TEXTUAL_DRIVER": "reelcare.tui.browser.served:Served",
    "TEXTUAL_FPS": "60",
    "TEXTUAL_COLOR_SYSTEM": "truecolor",
    "TERM_PROGRAM": "textual",
}
"""What the framework reads in the process of the app."""
TEMPLATES = Path(__file__).with_name("web")
LOOPBACK = ("127.0.0.1", "localhost", "::1")
COME_IN = (
    '<!DOCTYPE html><meta http-equiv="refresh" content="0; url=/"><link rel="icon" href="data:,">'
    '<title>Reelcare</title><a href="/">Go on</a>'
)
"""What the token's address shows. It goes on by itself and not by a redirect: a browser that came here from another
page, as from a mail, would not send a strict cookie along with that."""

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]
Tell = Callable[[str], None]


def is_loopback(host: str) -> bool:
    """Whether only this computer reaches what listens there.

    >>> is_loopback("127.0.0.1"), is_loopback("localhost"), is_loopback("192.168.1.20")
    (True, True, False)
    """
    return host in LOOPBACK or _is(host, "is_loopback")


def is_everywhere(host: str) -> bool:
    """Whether this means all addresses of the computer, and names none of them.

    >>> is_everywhere("0.0.0.0"), is_everywhere("::"), is_everywhere("shop")
    (True, True, False)
    """
    return not host or _is(host, "is_unspecified")


def _is(host: str, what: str) -> bool:
    try:
        return bool(getattr(ipaddress.ip_address(host), what))
    except ValueError:
        return False


class Session(AppService):
    """The app for one socket: a process of its own."""

    words: tuple[str, ...] = ()

    async def _open_app_process(self, width: int = 80, height: int = 24) -> asyncio.subprocess.Process:
        # without a shell: the process that is ended is the app itself
        pipe = asyncio.subprocess.PIPE
        environment = os.environ | APP | {"COLUMNS": str(width), "ROWS": str(height)}
        self._process = process = await asyncio.create_subprocess_exec(
            *self.words, stdin=pipe, stdout=pipe, stderr=pipe, env=environment
        )
        self._stdin = process.stdin  # where the base sends what comes from the browser
        return process

    async def ended(self) -> None:
        """Wait until the app has left, or could not begin."""
        # the base keeps the process here, and has no public way to wait for it
        if self._process is not None:
            await self._process.wait()

    async def stop(self) -> None:
        """Ask the app to leave, and end it where it does not."""
        try:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(super().stop(), GRACE)
        finally:
            if self._process is not None and self._process.returncode is None:
                with contextlib.suppress(ProcessLookupError):
                    self._process.kill()
                await self._process.wait()


class Gate(Server):
    """A server of the app that lets in who has been told the address."""

    def __init__(self, host: str, port: int, *, writes: bool, options: list[str], tell: Tell) -> None:
        self.words = (sys.executable, "-m", "reelcare", *options, *(() if writes else ("--view",)))
        super().__init__(
            "reelcare", host, port, title="Reelcare", templates_path=TEMPLATES, public_url=_url(host, port)
        )
        self._language = options[options.index("--language") + 1] if "--language" in options else "en"
        self._tell = tell
        self._token = secrets.token_urlsafe(32)
        self._sessions: set[str] = set()
        self._sockets: set[web.WebSocketResponse] = set()
        self._running = 0

    @property
    def address(self) -> str:
        """The address that opens the app, once."""
        return f"{self.public_url}/?token={self._token}"

    @property
    def cookie(self) -> str:
        """The cookie's name; a browser does not tell one port from another by itself."""
        return f"{COOKIE}-{self.port}"

    async def _make_app(self) -> web.Application:
        # the one place where its routes are made: ours is added and all of them are guarded
        app = await super()._make_app()
        app.router.add_get("/page.js", _script)
        app.middlewares.append(self._guard)
        return app

    async def on_startup(self, app: web.Application) -> None:
        """Say nothing yet: nobody listens."""

    async def on_shutdown(self, app: web.Application) -> None:
        """Close what is open, so that nothing has to be waited for."""
        for socket in list(self._sockets):
            await socket.close(code=WSCloseCode.GOING_AWAY)

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if not self._is_here(request.headers.get("Host", "")):
            raise web.HTTPForbidden(text=_("not at this address"))
        if request.path == "/" and "token" in request.query:
            # what only looks (a mail program, a chat) asks with HEAD: that lets nobody in, and uses nothing up
            return self._let_in(request) if request.method == "GET" else web.Response(headers=_headers(request.host))
        if not self._knows(request.cookies.get(self.cookie, "")):
            raise web.HTTPForbidden(text=_("ask whoever started it for a fresh address"))
        if request.path == "/ws":
            return await self._socket(request, handler)
        if request.path not in ("/", "/page.js") and not request.path.startswith("/static/"):
            raise web.HTTPNotFound()
        if request.path != "/" and not Path(request.path).suffix:
            raise web.HTTPNotFound()  # a folder is not listed
        answer = await handler(request)
        answer.headers.update(_headers(request.host))
        return answer

    async def _socket(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if request.headers.get("Origin", "").lower() != f"http://{request.host}".lower():
            raise web.HTTPForbidden(text=_("not from this page"))
        if self._running >= MOST_SESSIONS:
            raise web.HTTPServiceUnavailable(text=_("too many at once; close one"))
        self._running += 1
        try:
            return await handler(request)
        finally:
            self._running -= 1

    def _let_in(self, request: web.Request) -> web.Response:
        """The way in: the token opens once; the browser that it opened for holds a cookie from then on."""
        if not _same(request.query["token"], self._token):
            raise web.HTTPForbidden(text=_("this address has been used; ask for a fresh one"))
        self._token = secrets.token_urlsafe(32)
        session = secrets.token_urlsafe(32)
        self._sessions.add(session)
        answer = web.Response(text=COME_IN, content_type="text/html", headers=_headers(request.host))
        answer.set_cookie(self.cookie, session, httponly=True, samesite="Strict", path="/")
        self._tell(_("a browser was let in; the address for the next one: {address}", address=self.address))
        return answer

    def _knows(self, session: str) -> bool:
        return any(_same(session, one) for one in self._sessions)

    def _is_here(self, host: str) -> bool:
        """Whether a Host names this server. On this computer alone any port will do: it may be the end of a tunnel."""
        name, port = _parted(host.lower())
        if is_loopback(self.host):
            return name in (*LOOPBACK, self.host)
        return name == self.host.lower() and port == self.port

    async def handle_index(self, request: web.Request) -> web.Response:
        """The page, which asks for everything at the address that it was itself asked for at."""
        size = min(max(to_int(request.query.get("fontsize", "16"), 16), 6), 60)
        shown = {
            "title": self.title, "font_size": size, "socket": f"ws://{request.host}/ws", "language": self._language,
            "sized": "fontsize" in request.query, "ended": _("The session has ended."), "again": _("Open it again"),
            "page_up": _("Page up"), "page_down": _("Page down"), "smaller": _("Smaller text"),
            "larger": _("Larger text"),
        }  # fmt: skip
        return aiohttp_jinja2.render_template("app_index.html", request, shown)

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """One app for one socket, until either has ended."""
        socket = web.WebSocketResponse(heartbeat=15)
        await socket.prepare(request)
        self._sockets.add(socket)

        async def close() -> None:
            await socket.close()

        session = Session(
            self.command, write_bytes=socket.send_bytes, write_str=socket.send_str, close=close,
            download_manager=self.download_manager,
        )  # fmt: skip
        session.words = self.words
        watch: asyncio.Task[Any] | None = None
        try:
            await session.start(_cells(request, "width", 80), _cells(request, "height", 24))
            watch = asyncio.create_task(_close_after(session, socket))
            # the loop over what a browser sends; the handler around it is ours
            await self._process_messages(socket, session)
        except ConnectionError:
            pass  # the browser has gone in the middle of a word
        finally:
            self._sockets.discard(socket)
            if watch is not None:
                watch.cancel()
            await session.stop()
        return socket

    def run(self) -> None:
        """Serve until it is stopped. Raises OSError where the port cannot be had."""
        asyncio.run(self._until_stopped())

    async def _until_stopped(self) -> None:
        runner = web.AppRunner(await self._make_app(), access_log=None, shutdown_timeout=GRACE + 1)
        await runner.setup()
        try:
            await web.TCPSite(runner, self.host, self.port).start()
            self.port = runner.addresses[0][1]
            self.public_url = _url(self.host, self.port)
            stopped = asyncio.Event()
            for one in (signal.SIGINT, signal.SIGTERM):
                with contextlib.suppress(NotImplementedError):  # where there is none, Ctrl+C ends the loop
                    asyncio.get_running_loop().add_signal_handler(one, stopped.set)
            self._tell(_("open this address once: {address}", address=self.address))
            await stopped.wait()
        finally:
            await runner.cleanup()


async def _script(_: web.Request) -> web.FileResponse:
    return web.FileResponse(TEMPLATES / "page.js")


async def _close_after(session: Session, socket: web.WebSocketResponse) -> None:
    await session.ended()
    await socket.close()


def _cells(request: web.Request, name: str, otherwise: int) -> int:
    return min(max(to_int(request.query.get(name, ""), otherwise), 1), LARGEST)


def _same(given: str, kept: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "surrogateescape"), kept.encode())


def _parted(host: str) -> tuple[str, int]:
    """Name and port of a Host; 80 where there is none, as of http.

    >>> _parted("shop:8765"), _parted("[::1]:80"), _parted("shop"), _parted("shop:x")
    (('shop', 8765), ('::1', 80), ('shop', 80), ('', 0))
    """
    name, colon, port = host.rpartition(":")
    if not colon or host.endswith("]"):
        name, port = host, "80"
    if not (port.isascii() and port.isdigit() and len(port) <= 5):
        return "", 0
    return name.removeprefix("[").removesuffix("]"), int(port)


def _headers(host: str) -> dict[str, str]:
    socket = "" if host.startswith("[") else f" ws://{host}"  # the policy has no words for such an address
    return {
        "Content-Security-Policy": (
            f"default-src 'self'; connect-src 'self'{socket}; style-src 'self' 'unsafe-inline';"
            " img-src 'self' data:; frame-ancestors 'none'; form-action 'none'; base-uri 'none'"
        ),
        "Cache-Control": "no-store",
        "Referrer-Policy": "no-referrer",
        "X-Content-Type-Options": "nosniff",
        "Cross-Origin-Opener-Policy": "same-origin",
    }


def _url(host: str, port: int) -> str:
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def serve(where: Path | str, host: str, port: int, *, writes: bool, options: list[str], tell: Tell) -> None:
    """Serve the app on a register. Raises OSError where the port cannot be had."""
    # by the environment, not by words that others can read in the list of processes
    os.environ["REELCARE_REGISTER"] = str(where)
    Gate(host, port, writes=writes, options=options, tell=tell).run()
