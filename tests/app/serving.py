"""Owns starting the installed command as a process of its own, the way a user does."""

import os
import re
import subprocess
import sys
import threading
from pathlib import Path

COMMAND = Path(sys.executable).with_name("ohmwright")
START_S = 40


class Served:
    """A running `ohmwright`; `base` is its address, `computer` and `tablet` its links when serving the network."""

    def __init__(self, data_dir, *arguments, cwd, port=0):
        environment = {**os.environ, "OHMWRIGHT_DATA_DIR": str(data_dir)}
        self.process = subprocess.Popen(
            [COMMAND, "--no-browser", "--port", str(port), *arguments], cwd=cwd, env=environment, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        self.said = self._said(3 if "--tablet" in arguments else 1)
        links = re.findall(r"https?://\S+", " ".join(self.said))
        self.base = re.match(r"http://[^/]+", links[0])[0]
        self.port = int(self.base.rsplit(":", 1)[1])
        self.computer, self.tablet = (links + [None])[:2] if "--tablet" in arguments else (None, None)
        # What it says later must be read away, or a full pipe would stop it.
        threading.Thread(target=self.process.stdout.read, daemon=True).start()

    def _said(self, lines):
        limit = threading.Timer(START_S, self.process.kill)
        limit.start()
        said = []
        while sum("http" in line for line in said) < 1 or len(said) < lines:
            line = self.process.stdout.readline()
            if not line:
                raise AssertionError(f"the server did not start: {said}")
            said.append(line.strip())
        limit.cancel()
        return said

    def kill(self):
        """End it the hard way, in the middle of whatever it does."""
        self.process.kill()
        self.process.wait()

    def end(self):
        """End it the polite way."""
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.kill()
