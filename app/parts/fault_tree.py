"""Owns the complaint's fault tree, drawn a place at a time and whole as text; worked out only while it is open."""

import streamlit as st

from app import tree_branch, wording


def show(kb: object, complaint: tuple[str, ...], chances: dict | None = None, sensor: str | None = None) -> None:
    """The tree for `complaint`; `chances` {fault id: share} are the present ones on the leaves, of `sensor`."""
    opened = st.expander("The whole fault tree", key="tree", on_change="rerun", icon=":material/account_tree:")
    if not opened.open:
        return
    with opened:
        tree = kb.fault_tree(complaint, chances, sensor)
        branches = tree_branch.branches(tree)
        chosen = st.selectbox("Draw", tuple(branches), key="tree-branch",
                              format_func=lambda name: wording.title(name))
        st.graphviz_chart(tree_branch.wrapped(kb.fault_tree_dot(branches[chosen])), width="stretch",
                          alt="The fault tree; the same as text follows")
        st.code(kb.fault_tree_text(branches[chosen]), language=None, wrap_lines=True)
