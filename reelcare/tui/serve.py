"""The app in a browser, for a tablet in the yard.

The rules of this file: who has not the address with its token sees nothing. The token opens once, for one browser,
which then holds a cookie; pages and sockets of others are refused by Host and Origin. Nothing is asked of any other
server, no token is in a log or in the list of processes, and no more sessions run than can be served. To look is the
rule; to write has to be asked for when it is started.
"""

from __future__ import annotations

import asyncio
import hmac
import os
import secrets
import shlex
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

from aiohttp import web
from textual_serve.app_service import AppService
from textual_serve.server import Server

COOKIE = "reelcare"
MOST_SESSIONS = 8
PATIENCE = 3.0
"""Seconds that an app has to end by itself."""
TEMPLATES = Path(__file__).with_name("web")
LOOPBACK = ("127.0.0.1", "localhost", "::1")

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]
Tell = Callable[[str], None]


class Gate(Server):
    """A server of the app that lets in who has been told the address."""

    def __init__(self, host: str, port: int, *, writes: bool, options: list[str], tell: Tell) -> None:
        command = [sys.executable, "-m", "reelcare", *options, *([] if writes else ["--view"])]
        super().__init__(
            # the shell that starts it makes way for it, so that it can be ended
            f"exec {shlex.join(command)}",
            host,
            port,
            title="Reelcare",
            templates_path=TEMPLATES,
            public_url=_url(host, port),
        )
        self._tell = tell
        self._token = secrets.token_urlsafe(32)
        self._sessions: set[str] = set()
        self._running = 0

    @property
    def address(self) -> str:
        """The address that opens the app, once."""
        return f"{self.public_url}/?token={self._token}"

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._guard)
        return app

    async def on_startup(self, app: web.Application) -> None:
        """Say where it is."""
        self._tell(f"open this address once: {self.address}")

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if request.headers.get("Host", "") not in self._hosts():
            raise web.HTTPForbidden(text="not at this address")
        if request.path == "/" and "token" in request.query:
            raise self._let_in(request.query["token"])
        if not self._knows(request.cookies.get(COOKIE, "")):
            raise web.HTTPForbidden(text="ask whoever started it for a fresh address")
        if request.path == "/ws":
            return await self._socket(request, handler)
        if request.path != "/" and not request.path.startswith("/static/"):
            raise web.HTTPNotFound()
        answer = await handler(request)
        answer.headers.update(self._headers())
        return answer

    async def _socket(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if request.headers.get("Origin") not in {f"http://{host}" for host in self._hosts()}:
            raise web.HTTPForbidden(text="not from this page")
        if self._running >= MOST_SESSIONS:
            raise web.HTTPServiceUnavailable(text="too many at once; close one")
        self._running += 1
        try:
            return await handler(request)
        finally:
            self._running -= 1

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """One session: an app of its own, which ends with its socket."""
        socket = web.WebSocketResponse(heartbeat=15)
        width, height = (_number(request.query.get(name, ""), usual) for name, usual in (("width", 80), ("height", 24)))
        await socket.prepare(request)

        async def close() -> None:
            await socket.close()

        session = Session(
            self.command,
            write_bytes=socket.send_bytes,
            write_str=socket.send_str,
            close=close,
            download_manager=self.download_manager,
        )
        try:
            await session.start(width, height)
            await self._process_messages(socket, session)
        finally:
            await session.end()
        return socket

    def _let_in(self, token: str) -> web.HTTPException:
        """The way in: the token opens once; the browser that it opened for holds a cookie from then on."""
        if not hmac.compare_digest(token.encode(), self._token.encode()):
            raise web.HTTPForbidden(text="this address has been used; ask for a fresh one")
        self._token = secrets.token_urlsafe(32)
        session = secrets.token_urlsafe(32)
        self._sessions.add(session)
        answer = web.HTTPSeeOther("/")
        answer.set_cookie(COOKIE, session, httponly=True, samesite="Strict", path="/")
        answer.headers.update(self._headers())
        self._tell(f"a browser was let in; the address for the next one: {self.address}")
        return answer

    def _knows(self, session: str) -> bool:
        return any(hmac.compare_digest(session.encode(), one.encode()) for one in self._sessions)

    def _hosts(self) -> set[str]:
        names = LOOPBACK if self.host in LOOPBACK else (self.host,)
        return {f"[{name}]:{self.port}" if ":" in name else f"{name}:{self.port}" for name in names}

    def _headers(self) -> dict[str, str]:
        sockets = " ".join(f"ws://{host}" for host in sorted(self._hosts()) if not host.startswith("["))
        return {
            "Content-Security-Policy": (
                f"default-src 'self'; connect-src 'self' {sockets}; style-src 'self' 'unsafe-inline';"
                " img-src 'self' data:; frame-ancestors 'none'; form-action 'none'; base-uri 'none'"
            ),
            "Cache-Control": "no-store",
            "Referrer-Policy": "no-referrer",
            "X-Content-Type-Options": "nosniff",
            "Cross-Origin-Opener-Policy": "same-origin",
        }

    def run(self) -> None:
        """Serve until it is stopped."""
        web.run_app(
            self._make_app(), host=self.host, port=self.port, access_log=None, print=lambda *_: None, shutdown_timeout=2
        )


class Session(AppService):
    """An app that runs for one browser."""

    async def end(self) -> None:
        """Ask it to end; where it does not in a few seconds, or nobody has the time to wait, end it."""
        try:
            await asyncio.wait_for(self.stop(), PATIENCE)
        except (Exception, asyncio.CancelledError):
            pass  # it is ended below, whatever it was
        finally:
            process = self._process
            if process is not None:
                if process.returncode is None:
                    process.kill()
                # what the pipes hold is let go at once, not when it is next swept up
                process._transport.close()  # type: ignore[attr-defined]  # there is no public way
        if process is not None:
            await process.wait()


def _number(text: str, usual: int) -> int:
    return int(text) if text.isdigit() and 10 <= int(text) <= 1000 else usual


def _url(host: str, port: int) -> str:
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def serve(where: Path | str, host: str, port: int, *, writes: bool, options: list[str], tell: Tell) -> None:
    """Serve the app on a register. Raises OSError where the port cannot be had."""
    # by the environment, not by words that others can read in the list of processes
    os.environ["REELCARE_REGISTER"] = str(where)
    asyncio.set_event_loop(asyncio.new_event_loop())
    Gate(host, port, writes=writes, options=options, tell=tell).run()
