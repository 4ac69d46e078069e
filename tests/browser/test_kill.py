"""Owns the proof that a save acknowledged on screen is there after the server was killed in the middle of the next one."""

import random

from knowledge.shop_book import ShopBook
from tests.app.case import WITHOUT_READINGS
from tests.browser import hands

KILLS = 10


def save(page, ohm):
    """Type the input resistor and tap save, without waiting for the answer."""
    hands.type_in(page, "Input resistor (ohms)", ohm)
    page.get_by_role("button", name="Save what is known").click()


def acknowledged(page, ohm):
    """The screen's own word that `ohm` was saved: it shows nothing but what it reads back from the shop book."""
    return page.get_by_text(f"{ohm} Ω (typed)")


def test_ten_kills_in_the_middle_of_a_save_lose_nothing_acknowledged(page, served, tmp_path):
    random.seed(10)
    job = ShopBook(tmp_path / "shop-book.db").new_job(WITHOUT_READINGS)
    server, saves, in_the_middle = served(), 0, 0
    page.goto(f"{server.base}/circuit?job={job}")
    for kill in range(KILLS):
        first, second = 100 + 2 * kill, 101 + 2 * kill
        hands.rest(page)
        if not page.get_by_label("Input resistor (ohms)").first.is_visible():
            page.get_by_text("I know it better").click()
            hands.rest(page)
        save(page, first)
        acknowledged(page, first).wait_for()
        page.get_by_text("Saved.", exact=True).first.wait_for()
        hands.rest(page)
        save(page, second)
        page.wait_for_timeout(random.uniform(0, 120))
        server.kill()
        seen = bool(acknowledged(page, second).count())
        book = ShopBook(tmp_path / "shop-book.db")
        assert book.check() == "ok"
        kept = book.open(job)["circuit"]["pull_up_ohm"]
        assert kept == second if seen else kept in (first, second), f"kill {kill}"
        saves += 1 + (kept == second)
        assert [event["event"] for event in book.log(job)] == ["opened"] + ["circuit"] * saves
        in_the_middle += not seen
        book.dispose()
        # The page comes back by itself, to the same job.
        page.wait_for_selector(hands.LOST)
        server = served(port=server.port)
        page.wait_for_selector(hands.CONNECTED)
    assert in_the_middle, "no kill came before its save was acknowledged"
