"""Owns what is kept between reruns: the knowledge, the shop book, worked cases."""

import json
import os
from functools import cached_property
from pathlib import Path

import streamlit as st

from knowledge import load
from knowledge.memory import settle
from knowledge.shop_book import ShopBook

DATA_DIR = "OHMWRIGHT_DATA_DIR"


class Worked:
    """One case worked out: the engine's `job`, and its verdict and ranked advice once they are asked for."""

    def __init__(self, job: object) -> None:
        self.job = job

    @cached_property
    def verdict(self) -> object:
        """The engine's Verdict."""
        return self.job.verdict()

    @cached_property
    def advice(self) -> tuple:
        """The engine's Advice, best first."""
        return self.job.advice()


@st.cache_resource(show_spinner="Reading the knowledge … The first start on a machine takes up to two minutes.")
def knowledge() -> object:
    """The one Knowledge of this process."""
    kb = load()
    # Streamlit collects all garbage after every rerun.
    settle()
    return kb


@st.cache_resource(show_spinner=False)
def shop_book() -> ShopBook:
    """The shop's book, in OHMWRIGHT_DATA_DIR when that is set and in the user's data directory otherwise."""
    folder = os.environ.get(DATA_DIR)
    return ShopBook(Path(folder) / "shop-book.db" if folder else None)


def worked(case: dict) -> Worked:
    """`case` checked; the same case is not worked twice. Raises OhmwrightError for a case that cannot be worked."""
    return _worked(json.dumps(case, sort_keys=True))


def review(stand_in: dict | None) -> tuple:
    """Which sensor kinds suit the stand-in in hand (None: the usual one), a ReviewRow each."""
    return _review(json.dumps(stand_in, sort_keys=True))


@st.cache_resource(max_entries=64, show_spinner=False)
def _worked(case_text: str) -> Worked:
    return Worked(knowledge().open_case(json.loads(case_text)))


@st.cache_resource(max_entries=8, show_spinner="Working it out …")
def _review(stand_in_text: str) -> tuple:
    return knowledge().review(json.loads(stand_in_text))
