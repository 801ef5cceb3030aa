"""The command line: thin, every command one call into the library."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress

# Nothing of ours is loaded before `main` can say what went wrong: what is not foreseen must not
# leave with the code of a verdict.

# As a shell says of a program that a signal ended: interrupted, or its reader went away. Neither
# may pass for a verdict.
INTERRUPTED, NO_READER = 130, 141
_UNFORESEEN, _BAD_INPUT = 3, 2
_TRACED = "--traceback"


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
        cannot tell yet, 2 input that cannot be used, 3 anything that evpack did not foresee.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    traced = _TRACED in words
    try:
        return _run([word for word in words if word != _TRACED])
    except BrokenPipeError:
        # ``| head`` has read enough.
        _give_up_output()
        return NO_READER
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as problem:  # noqa: BLE001  whatever it is, it is no verdict
        return _unforeseen(problem, traced=traced)


def _run(words: list[str]) -> int:
    from evpack.base.errors import EvpackError  # noqa: PLC0415
    from evpack.cli.words import parser  # noqa: PLC0415
    from evpack.show.clean import ERRORS  # noqa: PLC0415  registers how signs are spelled

    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot write a sign gets another one, not a traceback.
            stream.reconfigure(errors=ERRORS)
    given = parser().parse_args(words)
    try:
        code = int(given.run(given))
        if sys.stdout is not None:  # closed by who started it
            sys.stdout.flush()
    except EvpackError as problem:
        print(f"evpack: {problem}", file=sys.stderr)
        return _BAD_INPUT
    return code


def _unforeseen(problem: Exception, *, traced: bool) -> int:
    """Say in one line what nobody foresaw; it says nothing of the build."""
    _give_up_output()
    with suppress(OSError, ValueError):
        if traced:
            import traceback  # noqa: PLC0415  seldom

            traceback.print_exception(problem, file=sys.stderr)
        told = "".join(sign if sign.isprintable() else " " for sign in str(problem))
        told = " ".join(f"{type(problem).__name__}: {told}".split())
        more = "" if traced else f" With {_TRACED} it says where."
        print(
            f"evpack: stopped by something unforeseen ({told[:300]}). This is no verdict on any "
            "build: please report it to whoever gave you evpack, with the words you typed and, if "
            f"you may, the file.{more}",
            file=sys.stderr,
        )
    return _UNFORESEEN


def _give_up_output() -> None:
    """Keep Python from complaining of an output that cannot be written when it ends."""
    if sys.stdout is None:
        return
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
