"""Owns who may come in over the shop's network: one-time keys and the gate every request passes."""

import hashlib
import secrets
import threading
from collections.abc import Sequence
from urllib.parse import parse_qs

from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send

COMPUTER = "computer"
TABLET = "tablet"
ENTRY = "/enter"
ROLE_HEADER = "x-ohmwright-role"
_REFUSED = "Ohmwright: open the one-time link shown on the shop's computer first.\n"
_SPENT = "Ohmwright: this link was used before or is not complete. Make another one on the shop's computer.\n"
_HEADERS = {"Cache-Control": "no-store", "Referrer-Policy": "no-referrer"}


class Keys:
    """The keys not used yet, at most one for each role.

    A key is 32 random bytes as text and lets one browser in, once. Only its
    digest decides, so the time a comparison takes tells nothing about the key.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._unused: dict[str, str] = {}

    def make(self, role: str) -> str:
        """A new key for `role`; one made before and not used stops working."""
        key = secrets.token_urlsafe(32)
        with self._lock:
            self._unused[role] = key
        return key

    def unused(self, role: str) -> str | None:
        """The key of `role` that still works, or None."""
        with self._lock:
            return self._unused.get(role)

    def redeem(self, key: str) -> str | None:
        """The role `key` lets in; the key stops working. None for any other text."""
        wanted = _digest(key)
        with self._lock:
            for role, unused in self._unused.items():
                if secrets.compare_digest(_digest(unused), wanted):
                    del self._unused[role]
                    return role
        return None


class Gate:
    """Middleware that serves nothing without a signed session; stands inside SessionMiddleware.

    A visit to ``/enter?key=...`` spends the key, marks the session and leads
    to the first screen. Anything else without a mark is answered 403: the page,
    its files and the websocket alike.
    """

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self.app = app
        self.keys = keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let an admitted request through, redeem a key, or refuse."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        role = scope["session"].get("role")
        if scope["type"] == "http" and scope["path"] == ENTRY and scope["method"] == "GET":
            role = role or self._redeem(scope)
            answer = RedirectResponse("/", 303, _HEADERS) if role else PlainTextResponse(_SPENT, 403, _HEADERS)
            await answer(scope, receive, send)
        elif role in (COMPUTER, TABLET):
            await self.app(_marked(scope, role), receive, send)
        elif scope["type"] == "http":
            await PlainTextResponse(_REFUSED, 403, _HEADERS)(scope, receive, send)
        else:
            await send({"type": "websocket.close", "code": 1008})

    def _redeem(self, scope: Scope) -> str | None:
        query = parse_qs(scope["query_string"].decode("latin-1"))
        role = self.keys.redeem(query.get("key", [""])[0])
        if role:
            scope["session"]["role"] = role
        return role


class Door:
    """What the screen on the computer needs to let another tablet in: the keys and the addresses they work at."""

    def __init__(self, keys: Keys, addresses: Sequence[str]) -> None:
        self.keys = keys
        self.addresses = tuple(addresses)

    def tablet_link(self) -> str | None:
        """The link a tablet can still open once, or None after it was used."""
        key = self.keys.unused(TABLET)
        return f"{self.addresses[0]}{ENTRY}?key={key}" if key else None

    def another_link(self) -> None:
        """Make a fresh link; an unused one made before stops working."""
        self.keys.make(TABLET)


_open_door: list[Door] = []


def open_door(door: Door) -> None:
    """Say which door this process serves, so that the computer's own screen can show its link."""
    _open_door[:] = [door]


def door() -> Door | None:
    """The door of this process; None while the app serves this machine only."""
    return _open_door[0] if _open_door else None


def _digest(key: str) -> bytes:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).digest()


def _marked(scope: Scope, role: str) -> Scope:
    # A copy: the app behind keeps a session of its own and must not write over ours.
    # The role travels as a header, and one sent from outside is dropped.
    inner = {key: value for key, value in scope.items() if key != "session"}
    name = ROLE_HEADER.encode()
    inner["headers"] = [pair for pair in scope["headers"] if pair[0].lower() != name]
    inner["headers"].append((name, role.encode()))
    return inner
