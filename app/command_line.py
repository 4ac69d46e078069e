"""Owns the command `ohmwright`: open the app, answer a case file, check the knowledge."""

import argparse
import sys
from importlib import metadata

from engine.errors import OhmwrightError

BAD_INPUT = 2


def main(arguments: list[str] | None = None) -> int:
    """Run the command with `arguments` (None: those of the process) and return its exit code.

    0 done, 1 findings of `check` that nobody acknowledged, 2 bad input.
    """
    chosen = _parser().parse_args(arguments)
    try:
        return chosen.run(chosen)
    except OhmwrightError as problem:
        print(one_line(str(problem)), file=sys.stderr)
        return BAD_INPUT


def one_line(text: str) -> str:
    """`text` on one line, without control characters, fit for a terminal."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ohmwright", description="Find whether the sensor, the plug, a wire or the module is at fault.")
    parser.add_argument("--version", action="version", version=f"ohmwright {metadata.version('ohmwright')}")
    parser.add_argument("--tablet", action="store_true", help="serve the shop's own network, by one-time link")
    parser.add_argument("--port", type=_port, help="the port to use (0 takes any free one)")
    parser.add_argument("--no-browser", action="store_true", help="do not open the browser")
    parser.set_defaults(run=_serve)
    commands = parser.add_subparsers(title="without the screens")
    answer = commands.add_parser("answer", help="answer a case file, as JSON")
    answer.add_argument("case", metavar="CASE.json")
    answer.set_defaults(run=_answer)
    check = commands.add_parser("check", help="look the knowledge over for mistakes")
    check.set_defaults(run=_check)
    return parser


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text[:6]) > 65535:
        raise argparse.ArgumentTypeError("a port is a whole number from 0 to 65535")
    return int(text)


# What follows imports only when chosen: the answer must not wait for the screens.

def _serve(chosen: argparse.Namespace) -> int:
    from app.serve import serve
    return serve(tablet=chosen.tablet, port=chosen.port, browser=not chosen.no_browser)


def _answer(chosen: argparse.Namespace) -> int:
    from app.answer import answer, read_case
    from knowledge import load
    case = read_case(chosen.case)
    # Bytes, so that neither the locale nor the platform's line ends show.
    sys.stdout.buffer.write(answer(load(), case).encode())
    return 0


def _check(_chosen: argparse.Namespace) -> int:
    from knowledge import load
    findings = load().lint()
    for finding in findings:
        mark = " (acknowledged)" if finding.acknowledged else ""
        print(one_line(f"{finding.rule}: {finding.text}{mark}"))
    open_ones = [finding for finding in findings if not finding.acknowledged]
    print(f"{len(findings)} findings, {len(open_ones)} of them not acknowledged.")
    return 1 if open_ones else 0


if __name__ == "__main__":
    sys.exit(main())
