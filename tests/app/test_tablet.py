"""Owns the proof that nothing answers over the shop's network without a one-time link."""

import socket
import threading

import httpx
import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from app.access import TABLET, Keys

PATHS = ("/", "/index.html", "/_stcore/health", "/_stcore/host-config", "/static/js/x.js", "/media/x.png", "/shop-book",
         "/enter", "/enter?key=", "/enter?key=wrong", "/_stcore/stream", "/ENTER", "//enter")


@pytest.fixture
def shop(served):
    return served("--tablet")


def websocket_answer(base, cookie=None):
    """The HTTP status the websocket is answered with; 101 when it opens."""
    headers = {"Cookie": cookie} if cookie else {}
    try:
        with connect(base.replace("http", "ws", 1) + "/_stcore/stream", additional_headers=headers, subprotocols=["streamlit"],
                     proxy=None):
            return 101
    except InvalidStatus as refused:
        return refused.response.status_code


def enter(link):
    """A client that opened `link`, and the answer it got."""
    client = httpx.Client(trust_env=False)
    return client, client.get(link)


def test_nothing_answers_without_the_link(shop):
    for path in PATHS:
        answer = httpx.get(shop.base + path, trust_env=False)
        assert answer.status_code == 403, path
        assert answer.text.startswith("Ohmwright: "), path
        assert "set-cookie" not in answer.headers, path
    for method in ("POST", "PUT", "DELETE", "HEAD", "OPTIONS"):
        assert httpx.request(method, shop.base + "/enter?key=x", trust_env=False).status_code == 403, method
    assert websocket_answer(shop.base) == 403


def test_the_link_opens_page_and_websocket_once(shop):
    tablet, answer = enter(shop.tablet)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"
    assert answer.headers["referrer-policy"] == "no-referrer"
    cookie = answer.headers["set-cookie"]
    assert "httponly" in cookie and "samesite=lax" in cookie
    assert tablet.get(shop.tablet.split("/enter")[0] + "/").status_code == 200
    assert websocket_answer(shop.tablet.split("/enter")[0], cookie.split(";")[0]) == 101
    _, second = enter(shop.tablet)
    assert second.status_code == 403
    assert "used before" in second.text


def test_the_computer_has_a_link_of_its_own(shop):
    assert shop.computer != shop.tablet
    computer, answer = enter(shop.computer)
    assert answer.status_code == 303
    assert computer.get(shop.base + "/_stcore/health").text == "ok"
    assert enter(shop.computer)[1].status_code == 403


def test_a_second_visit_with_the_cookie_is_no_mistake(shop):
    tablet, _ = enter(shop.tablet)
    assert tablet.get(shop.tablet).status_code == 303


@pytest.mark.parametrize("change", [lambda c: c[:-2] + ("A" if c[-2] != "A" else "B") + c[-1], lambda c: c + "x",
                                    lambda c: "eyJyb2xlIjogInRhYmxldCJ9", lambda c: ""])
def test_a_changed_cookie_opens_nothing(shop, change):
    _, answer = enter(shop.tablet)
    name, value = answer.headers["set-cookie"].split(";")[0].split("=", 1)
    forged = f"{name}={change(value)}"
    assert httpx.get(shop.base + "/", headers={"Cookie": forged}, trust_env=False).status_code == 403
    assert websocket_answer(shop.base, forged) == 403


def test_a_cookie_of_an_earlier_start_opens_nothing(served):
    first = served("--tablet")
    _, answer = enter(first.computer)
    value = answer.headers["set-cookie"].split(";")[0].split("=", 1)[1]
    first.end()
    second = served("--tablet")
    forged = f"ohmwright-{second.port}={value}"
    assert httpx.get(second.base + "/", headers={"Cookie": forged}, trust_env=False).status_code == 403


def test_without_tablet_only_this_machine_is_served(served):
    own = served()
    assert own.base.startswith("http://127.0.0.1:")
    assert httpx.get(own.base + "/_stcore/health", trust_env=False).text == "ok"
    outside = [address[4][0] for address in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    for address in {address for address in outside if not address.startswith("127.")}:
        with pytest.raises(httpx.ConnectError):
            httpx.get(f"http://{address}:{own.port}/", trust_env=False, timeout=3)


def test_another_name_for_this_machine_gets_no_websocket(served):
    own = served()

    def knock(host):
        with socket.create_connection(("127.0.0.1", own.port), timeout=10) as line:
            line.sendall((f"GET /_stcore/stream HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
                          "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\nSec-WebSocket-Version: 13\r\n"
                          f"Origin: http://{host}\r\n\r\n").encode())
            return int(line.makefile("rb").readline().split()[1])
    assert knock("elsewhere.example") == 403
    assert knock(f"127.0.0.1:{own.port}") == 101


def test_a_key_lets_one_in_when_many_try_at_once():
    keys = Keys()
    key = keys.make(TABLET)
    admitted = []
    together = threading.Barrier(16)

    def knock():
        together.wait()
        admitted.append(keys.redeem(key))
    threads = [threading.Thread(target=knock) for _ in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(filter(None, admitted)) == [TABLET]


def test_a_new_link_ends_the_unused_one():
    keys = Keys()
    old, new = keys.make(TABLET), keys.make(TABLET)
    assert len(new) >= 43
    assert keys.redeem(old) is None
    assert keys.unused(TABLET) == new
    assert keys.redeem(new) == TABLET
    assert keys.unused(TABLET) is None
