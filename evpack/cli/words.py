"""The words of the command line."""

from __future__ import annotations

import argparse

import evpack
from evpack.cli import begin, decision, finished, heap, runs, searches

_GROUPS = (decision, heap, searches, runs, finished, begin)  # in the order of the help


def parser() -> argparse.ArgumentParser:
    """Return what reads the words after ``evpack``."""
    made = argparse.ArgumentParser(
        prog="evpack",
        description="Design workbooks for giving salvaged EV battery modules a second life.",
        epilog="A SHEET is a build sheet (.toml) or a shared page (.html), which carries one. "
        "Exit code 3: something that evpack did not foresee, and no verdict.",
    )
    made.add_argument("--version", action="version", version=f"evpack {evpack.__version__}")
    made.add_argument(
        "--traceback",
        action="store_true",
        help="of an error that was not foreseen, say where it arose (after any command)",
    )
    commands = made.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for group in _GROUPS:
        group.add(commands)
    return made
