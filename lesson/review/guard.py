"""Who may talk to the page: this machine, this browser, this page; everybody else gets one line and no more.

The threats: another site open in the same browser (it can send requests here, and read answers if a name it owns is
made to point here), another user of the machine, and words of the talk that look like markup.
"""

from __future__ import annotations

import hmac
import secrets
import threading
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MAX_BODY_BYTES = 16 * 1024
"""Bytes of a request's body. The largest answer holds 800 characters, in JSON at most 12 bytes each."""

MAX_QUERY_BYTES = 1024
"""Bytes of a query. The longest the page sends names a position and two words."""

HEADERS = {
    # Scripts and styles come from the program's own files only, so words of the talk cannot become either.
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; "
        "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'; "
        "require-trusted-types-for 'script'; trusted-types lesson"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=()",
    "cache-control": "no-store",
}

_CHANGES = {"POST"}
_READS = {"GET", "HEAD"}


class Doorkeeper:
    """The one-time token, and the secret of the cookie it is swapped for."""

    def __init__(self, port: int) -> None:
        self.hosts = (f"127.0.0.1:{port}", f"localhost:{port}")
        self.cookie = f"lesson_{port}"  # browsers send cookies to every port of a host, so the name tells them apart
        self.token = secrets.token_urlsafe(32)
        self._secret = secrets.token_urlsafe(32)
        self._used = False
        self._lock = threading.Lock()

    @property
    def address(self) -> str:
        """What the user opens, once."""
        return f"http://{self.hosts[0]}/open?token={self.token}"

    def swap(self, token: str) -> bool:
        """Whether the token is right and unused; from now on it is used."""
        with self._lock:
            right = hmac.compare_digest(token.encode(), self.token.encode()) and not self._used
            self._used = self._used or right
            return right

    def knows(self, headers: Headers) -> bool:
        """Whether the request carries the cookie."""
        try:
            cookies = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        sent = cookies.get(self.cookie)
        return sent is not None and hmac.compare_digest(sent.value.encode(), self._secret.encode())

    def hand_out(self, response: Response) -> None:
        """Put the cookie on a response. It has no lifetime: it goes with the browser."""
        response.set_cookie(self.cookie, self._secret, path="/", httponly=True, samesite="strict")


class Guard:
    """ASGI middleware in front of everything: host, cookie, origin, size; and the headers on the way out."""

    def __init__(self, app: ASGIApp, door: Doorkeeper) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            elif scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        send = _with_headers(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, send)
            return
        if scope["method"] in _CHANGES:
            body = await _body(receive)
            if body is None:
                await _no(413, "that is more than any answer needs")(scope, receive, send)
                return
            receive = _replay(body, receive)
        await self.app(scope, receive, send)

    def _refusal(self, scope: Scope) -> Response | None:
        """Why the request is not answered, None where it is."""
        headers = Headers(scope=scope)
        method = scope["method"]
        if headers.getlist("host") not in [[host] for host in self.door.hosts]:
            return _no(421, "this address belongs to another program")
        if method not in _CHANGES | _READS:
            return _no(405, "only GET, HEAD and POST are answered")
        if len(scope.get("query_string", b"")) > MAX_QUERY_BYTES:
            return _no(414, "that address is too long")
        if scope["path"] == "/open" and method == "GET":
            return None  # the token is the key; the route asks for it
        if not self.door.knows(headers):
            return _no(403, "open the page with the address the program printed; it works once")
        site = headers.get("sec-fetch-site")
        if method in _CHANGES:
            return _refused_change(headers, site, self.door.hosts)
        if site not in (None, "same-origin", "none"):
            return _no(403, "another site asked for this")
        return None


def _refused_change(headers: Headers, site: str | None, hosts: tuple[str, ...]) -> Response | None:
    """A change must come from a script of our own page: the browser says so in two headers no script can set."""
    origin = headers.get("origin")
    if site not in (None, "same-origin") or (origin is not None and origin != f"http://{headers['host']}"):
        return _no(403, "another site asked for this change")
    if site is None and origin is None:
        return _no(403, "the request does not say where it comes from")
    if headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        return _no(415, "answers are sent as JSON")
    length = headers.get("content-length")
    if length is not None and (not length.isdecimal() or int(length) > MAX_BODY_BYTES):
        return _no(413, "that is more than any answer needs")
    return None


def _no(status: int, why: str) -> Response:
    return PlainTextResponse(f"{why}\n", status)


def welcome() -> Response:
    """After the token: a step of our own page, because a browser that was sent here by another site would not show a
    strict cookie on a redirect; and the token leaves the address."""
    return HTMLResponse(
        '<!doctype html><html lang="en"><meta charset="utf-8"><meta http-equiv="refresh" content="0;url=/">'
        '<link rel="icon" href="/assets/icon.svg"><title>lesson</title><p><a href="/">To the talk</a></p></html>'
    )


async def _body(receive: Receive) -> bytes | None:
    """The whole body, None where it is too large; it is never held beyond the limit."""
    chunks: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return b""
        size += len(message.get("body", b""))
        if size > MAX_BODY_BYTES:
            return None
        chunks.append(message.get("body", b""))
        if not message.get("more_body", False):
            return b"".join(chunks)


def _replay(body: bytes, receive: Receive) -> Receive:
    """A `receive` that yields the body already read, then what really comes (the end of the connection)."""
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again


def _with_headers(send: Send) -> Send:
    async def dressed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
        await send(message)

    return dressed
