"""Owns running ngspice for the comparisons with it; left out, and said so, where it is not installed."""

import os
import re
import shutil
import subprocess

import pytest

TIGHT = ".options reltol=1e-12 abstol=1e-18 vntol=1e-15 gmin=1e-18"


@pytest.fixture(scope="session")
def spice(tmp_path_factory):
    """Volts of `nodes` in a circuit given as lines of a netlist; without ngspice a skip, or a failure where it is required."""
    program = shutil.which("ngspice")
    if program is None:
        said = "ngspice is not installed, so the circuit is not compared with it"
        if os.environ.get("OHMWRIGHT_REQUIRE_NGSPICE") == "1":
            pytest.fail(said)
        pytest.skip(said)

    def volts(lines, nodes):
        folder = tmp_path_factory.mktemp("ngspice")
        # All nodes written at once: printing one after the other takes the square of their number.
        text = ["circuits beside each other", TIGHT, *lines, ".control", "set filetype=ascii", "op", f"write {folder / 'volts.raw'}",
                "quit", ".endc", ".end", ""]
        (folder / "circuits.cir").write_text("\n".join(text), encoding="utf-8")
        run = subprocess.run([program, "-b", str(folder / "circuits.cir")], capture_output=True, text=True, timeout=60, check=False)
        assert (folder / "volts.raw").exists(), run.stderr[-500:]
        written = (folder / "volts.raw").read_text(encoding="utf-8")
        names = re.findall(r"^\s+\d+\s+(\S+)\s+(?:voltage|current)", written, flags=re.MULTILINE)
        values = [float(word) for word in written.split("Values:")[1].split()[1:]]
        found = dict(zip(names, values, strict=True))
        return [found[f"v({node})"] for node in nodes]
    return volts
