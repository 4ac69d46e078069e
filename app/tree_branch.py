"""Owns cutting the fault tree into branches that can be read on a tablet, and breaking its labels into lines."""

import re
import textwrap

EVERYTHING = "everything"
LINE = 30


def branches(tree: object) -> dict[str, object]:
    """{name: TreeNode} with one entry for each location of each sensor kind (likeliest first), and everything last."""
    found = {}
    for sensor in tree.children:
        for place in sensor.children:
            name = sensor.label if place.kind != "location" else place.label
            found[name if len(tree.children) == 1 else f"{sensor.label}: {place.label}"] = place
    return {**found, EVERYTHING: tree}


def wrapped(dot: str) -> str:
    """DOT text with long labels broken into lines."""
    return re.sub(r'label="((?:[^"\\]|\\.)*)"', lambda label: f'label="{_broken(label[1])}"', dot)


def _broken(label: str) -> str:
    # A DOT label may end its own lines with \l; each of them is broken by itself.
    lines = label.split("\\l")
    end = "\\l" if len(lines) > 1 else "\\n"
    broken = [end.join(textwrap.wrap(line, LINE, break_long_words=False)) for line in lines]
    return "\\l".join(broken)
