"""Owns the local server: where it listens, what it prints, and the browser it opens."""

import errno
import importlib
import secrets
import socket
import sys
import threading
import webbrowser
from pathlib import Path

import uvicorn
from starlette.middleware import Middleware
from starlette.middleware.sessions import SessionMiddleware
from streamlit import config
from streamlit.web.server.starlette.starlette_app import App

from app.access import COMPUTER, ENTRY, Door, Gate, Keys, open_door

FIRST_PORT = 8571
PORTS_TRIED = 20
WORKING_DAY_S = 14 * 3600
LOOPBACK = "127.0.0.1"
ANY_ADDRESS = "0.0.0.0"  # the shop's own network, asked for by --tablet only


def serve(*, tablet: bool, port: int | None, browser: bool) -> int:
    """Serve the app until it is ended; 0, or 2 after a sentence on stderr when no port is free.

    `port` None tries FIRST_PORT and the ones after it; 0 takes any free one.
    """
    address = ANY_ADDRESS if tablet else LOOPBACK
    try:
        listening = _bind(address, port)
    except OSError as problem:
        print(_no_port(port, problem), file=sys.stderr)
        return 2
    number = listening.getsockname()[1]
    keys = Keys()
    app = App(Path(__file__).with_name("main.py"), middleware=_gate(keys, number) if tablet else None)
    config.set_option("server.port", number)
    config.set_option("server.address", address)
    if not tablet:
        # A page elsewhere that points its own name at this machine must not reach the socket.
        config.set_option("server.allowedHosts", [LOOPBACK, "localhost"])
    lines, opened = _greeting(keys, number) if tablet else _own_machine(number)
    server = _Server(uvicorn.Config(app, log_level="warning", access_log=False, lifespan="on",
                                    ws_per_message_deflate=False, timeout_graceful_shutdown=2))
    server.say = lines
    server.visit = opened if browser else None
    with listening:
        server.run(sockets=[listening])
    return 0 if server.started else 2


def _make_ready() -> None:
    """Reads what pages import; on the first start on a machine, compiles everything, so that nobody waits for it at the vehicle."""
    first = importlib.import_module("knowledge.warm").first_start()
    importlib.import_module("app.cached")
    if first:
        importlib.import_module("knowledge.warm").warm_all()


class _Server(uvicorn.Server):
    """Prints where the app is, and opens it, once it really answers."""

    say: tuple[str, ...] = ()
    visit: str | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if not self.started:
            return
        # The first visitor's browser takes a second to start; what his page needs is made ready meanwhile. Not before: the server imports
        # as it starts, and two threads that import each other's halves wait for each other.
        threading.Thread(target=_make_ready, daemon=True).start()
        for line in self.say:
            print(line, flush=True)
        if self.visit:
            webbrowser.open(self.visit)


def _gate(keys: Keys, port: int) -> list[Middleware]:
    # The secret lives as long as this start: a cookie from yesterday opens nothing.
    # The port is in the name because cookies do not tell ports of one machine apart.
    session = Middleware(SessionMiddleware, secret_key=secrets.token_hex(32),
                         session_cookie=f"ohmwright-{port}", max_age=WORKING_DAY_S, same_site="lax")
    return [session, Middleware(Gate, keys=keys)]


def _own_machine(port: int) -> tuple[tuple[str, ...], str]:
    address = f"http://{LOOPBACK}:{port}"
    return (f"Ohmwright is open at {address} on this machine only. Ctrl+C ends it.",), address


def _greeting(keys: Keys, port: int) -> tuple[tuple[str, ...], str]:
    door = Door(keys, [f"http://{host}:{port}" for host in _network_addresses()])
    door.another_link()
    open_door(door)
    own = f"http://{LOOPBACK}:{port}{ENTRY}?key={keys.make(COMPUTER)}"
    lines = ("Ohmwright serves this shop's network. Each link works once. Ctrl+C ends it.",
             f"This computer: {own}",
             f"Tablet: {door.tablet_link()}")
    return lines, own


def _network_addresses() -> list[str]:
    # Choosing a route sends nothing; it only tells which of our addresses faces the network.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("10.255.255.255", 9))
            return [probe.getsockname()[0]]
        except OSError:
            return [socket.gethostname()]


def _bind(address: str, port: int | None) -> socket.socket:
    tried = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if port is None else [port]
    for number in tried:
        try:
            return socket.create_server((address, number), backlog=256)
        except OSError as problem:
            taken = problem
            if problem.errno not in (errno.EADDRINUSE, errno.EACCES):
                break
    raise taken


def _no_port(port: int | None, problem: OSError) -> str:
    which = f"Port {port}" if port is not None else f"Every port from {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1}"
    return f"{which} cannot be used ({problem.strerror}): end the other program or name another one with --port."
