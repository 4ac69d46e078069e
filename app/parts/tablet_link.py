"""Owns the panel on the shop's own computer that lets a tablet in by a QR code."""

import io

import segno
import streamlit as st

from app.access import COMPUTER, ROLE_HEADER, door


def show() -> None:
    """The one-time link as picture and text; nothing on a tablet, and nothing while only this machine is served."""
    opened = door()
    if opened is None or st.context.headers.get(ROLE_HEADER) != COMPUTER:
        return
    with st.sidebar:
        st.subheader("Bring a tablet in")
        if st.button("Make another link", key="another-link", width="stretch"):
            opened.another_link()
        link = opened.tablet_link()
        if link is None:
            st.text("The last link was used.")
            return
        st.text("Scan this with the tablet. It works once.")
        st.image(_code(link), width="stretch", alt="QR code of the link")
        st.code(link, language=None, wrap_lines=True)


def _code(link: str) -> str:
    out = io.BytesIO()
    segno.make(link, error="m").save(out, kind="svg", scale=6, border=4, dark="#10191f", light="#ffffff",
                                     xmldecl=False)
    return out.getvalue().decode()
