"""What a request must pass before anything of the page sees it. One guard for each row of the threat table.

| threat | guard |
| --- | --- |
| other machines | `serve.listening` binds to this machine alone unless the owner asks otherwise |
| a name that is made to point at us (DNS rebinding) | `exact_host`, `single_headers` |
| requests from other sites | `own_origin`, `json_only` |
| other users of the machine | `has_key` |
| large bodies | `small_body`; WebSocket frames by the server's own limit |
| injection | `sealed` |
| requests that never end | `patience.PatientProtocol`, and the time limit in `small_body` |

Paths are guarded in `shelf`, parsers by `workers`.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

from steadfold.page.house import House

Scope = dict[str, Any]
Message = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_BODY = 1 << 20
LARGEST_DROP = 72 << 20
"""Bytes of a request that brings a file: 50 MB, as base64 in JSON."""
LARGEST_FRAME = 1 << 20
SLOWEST_BODY_S = 60.0

_READING = ("GET", "HEAD")


@dataclass(frozen=True)
class Refusal:
    """A status and a sentence for whoever asked."""

    status: int
    say: str


class Headers:
    """The headers of a request, by small names."""

    def __init__(self, scope: Scope):
        self.raw: list[tuple[str, str]] = [
            (k.decode("latin-1").lower(), v.decode("latin-1")) for k, v in scope["headers"]
        ]

    def all(self, name: str) -> list[str]:
        """Every value of a header."""
        return [value for key, value in self.raw if key == name]

    def one(self, name: str) -> str | None:
        """The first value of a header."""
        return next(iter(self.all(name)), None)


Guard = Callable[[Scope, Headers, House], Refusal | None]


def single_headers(scope: Scope, headers: Headers, house: House) -> Refusal | None:
    """A doubled Host or Origin may be read one way here and another way elsewhere."""
    for name in ("host", "origin", "content-length", "content-type"):
        if len(headers.all(name)) > 1:
            return Refusal(400, f"the header {name} came twice")
    return None


def exact_host(scope: Scope, headers: Headers, house: House) -> Refusal | None:
    """A foreign site whose name points at this machine still names itself in Host."""
    return None if headers.one("host") == house.host else Refusal(421, "this is not the page you meant")


def own_origin(scope: Scope, headers: Headers, house: House) -> Refusal | None:
    """What changes something, and the WebSocket, must come from our own page."""
    site = headers.one("sec-fetch-site")
    changes = scope["type"] == "websocket" or scope["method"] not in _READING
    if changes and headers.one("origin") != house.origin:
        return Refusal(403, "asked from another site")
    if changes and site is not None and site != "same-origin":
        return Refusal(403, "asked from another site")
    return None


def json_only(scope: Scope, headers: Headers, house: House) -> Refusal | None:
    """A form of another site cannot send JSON without asking first."""
    if scope["type"] == "websocket" or scope["method"] in _READING:
        return None
    kind = (headers.one("content-type") or "").split(";")[0].strip().lower()
    return None if kind == "application/json" else Refusal(415, "JSON only")


def has_key(scope: Scope, headers: Headers, house: House) -> Refusal | None:
    """Whoever has not opened the printed link is another user of this machine."""
    return None if key_matches(given_key(scope, headers, house), house) else Refusal(401, WITHOUT_KEY)


WITHOUT_KEY = "Open the link that `steadfold page` printed; it holds the key."

GUARDS: Mapping[str, Guard] = {
    "single_headers": single_headers,
    "exact_host": exact_host,
    "own_origin": own_origin,
    "has_key": has_key,
    "json_only": json_only,
}
"""Asked in this order; the first that refuses has the word."""


def given_key(scope: Scope, headers: Headers, house: House) -> str:
    """The key in the cookie, or in the link that is opened once."""
    for header in headers.all("cookie"):
        try:
            morsel = SimpleCookie(header).get(house.cookie)
        except CookieError:
            continue
        if morsel is not None:
            return morsel.value
    if scope["type"] == "http" and scope["path"] == "/" and scope["method"] in _READING:
        return parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
    return ""


def key_matches(given: str, house: House) -> bool:
    """Compared in the same time whatever is given."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), house.key.encode())


def guarded(app: App, house: House, guards: Mapping[str, Guard] = GUARDS, bodies: bool = True) -> App:
    """The page behind its guards. `bodies` False leaves the size of bodies unguarded (for the tests' twins)."""

    async def door(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await app(scope, receive, send)
            return
        headers = Headers(scope)
        for guard in guards.values():
            refusal = guard(scope, headers, house)
            if refusal is not None:
                await refuse(scope, receive, send, refusal)
                return
        if scope["type"] == "http" and bodies:
            body = await small_body(scope, headers, receive)
            if isinstance(body, Refusal):
                await refuse(scope, receive, send, body)
                return
            receive = _replayed(body, receive)
        await app(scope, receive, send)

    return door


def largest_body(path: str) -> int:
    """Bytes that a request to this path may bring."""
    return LARGEST_DROP if path == "/api/drop" else LARGEST_BODY


async def small_body(scope: Scope, headers: Headers, receive: Receive) -> bytes | Refusal:
    """The whole body, or the refusal of one that is too large or too slow, by what it says of itself or by count."""
    import anyio

    most = largest_body(scope["path"])
    declared = headers.one("content-length")
    if declared is not None and (not declared.isdigit() or int(declared) > most):
        return Refusal(413, "too large")
    parts, size = [], 0
    with anyio.move_on_after(SLOWEST_BODY_S):
        while True:
            message = await receive()
            if message["type"] != "http.request":
                return Refusal(400, "broken off")
            parts.append(message.get("body", b""))
            size += len(parts[-1])
            if size > most:
                return Refusal(413, "too large")
            if not message.get("more_body"):
                return b"".join(parts)
    return Refusal(408, "too slow")


def _replayed(body: bytes, receive: Receive) -> Receive:
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again


async def refuse(scope: Scope, receive: Receive, send: Send, refusal: Refusal) -> None:
    """Say no, in a sentence and nothing more."""
    body = refusal.say.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    headers.append((b"connection", b"close"))
    kind = "http.response"
    if scope["type"] == "websocket":
        await receive()
        if "websocket.http.response" not in scope.get("extensions", {}):
            await send({"type": "websocket.close", "code": 1008})
            return
        kind = "websocket.http.response"
    await send({"type": f"{kind}.start", "status": refusal.status, "headers": headers})
    await send({"type": f"{kind}.body", "body": body})


_INLINE = re.compile(r'<script type="importmap">(.*?)</script>', re.DOTALL)


def policy(index_html: str) -> str:
    """The content security policy: everything from here, nothing inline but the import map, by its hash."""
    digests = [hashlib.sha256(found.encode()).digest() for found in _INLINE.findall(index_html)]
    maps = "".join(f" 'sha256-{base64.b64encode(d).decode()}'" for d in digests)
    return (
        f"default-src 'none'; script-src 'self'{maps}; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "font-src 'none'; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )


def sealed(app: App, index_html: str) -> App:
    """Every answer with the headers that keep foreign code and foreign frames out."""
    fixed = {
        b"content-security-policy": policy(index_html).encode(),
        b"x-content-type-options": b"nosniff",
        b"x-frame-options": b"DENY",
        b"referrer-policy": b"no-referrer",
        b"cross-origin-opener-policy": b"same-origin",
        b"cross-origin-resource-policy": b"same-origin",
        b"permissions-policy": b"camera=(), geolocation=(), microphone=()",
        b"cache-control": b"no-store",
    }

    async def seal(scope: Scope, receive: Receive, send: Send) -> None:
        async def stamped(message: Message) -> None:
            if message["type"].endswith("response.start"):
                kept = [(k, v) for k, v in message.get("headers", []) if k.lower() not in fixed]
                message = {**message, "headers": [*kept, *fixed.items()]}
            await send(message)

        await app(scope, receive, stamped)

    return seal
