"""The command line: thin, every command one call into the library."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence

import evpack
from evpack.base.errors import EvpackError
from evpack.cli import begin, decision, finished, heap, runs, searches
from evpack.cli.common import BAD_INPUT

# As a shell says of a program that a signal ended: interrupted, or its reader went away. Neither
# may pass for a verdict.
INTERRUPTED, NO_READER = 130, 141

_GROUPS = (decision, heap, searches, runs, finished, begin)  # in the order of the help


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    arguments : sequence of str or None
        The words after ``evpack``; None takes those of the process.

    Returns
    -------
    int
        0 done (for ``decide``: works, or works with limits), 1 ``decide`` says does not work or
        cannot tell yet, 2 input that cannot be used.
    """
    given = _parser().parse_args(arguments)
    if isinstance(sys.stdout, io.TextIOWrapper):
        from evpack.show.clean import ERRORS  # noqa: PLC0415  registers how signs are spelled

        # A terminal that cannot write a sign gets another one, not a traceback.
        sys.stdout.reconfigure(errors=ERRORS)
    try:
        code = int(given.run(given))
        sys.stdout.flush()
    except EvpackError as problem:
        print(f"evpack: {problem}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # ``| head`` has read enough. Keep Python from complaining when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NO_READER
    except KeyboardInterrupt:
        return INTERRUPTED
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="evpack",
        description="Design workbooks for giving salvaged EV battery modules a second life.",
        epilog="A SHEET is a build sheet (.toml) or a shared page (.html), which carries one.",
    )
    parser.add_argument("--version", action="version", version=f"evpack {evpack.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for group in _GROUPS:
        group.add(commands)
    return parser
