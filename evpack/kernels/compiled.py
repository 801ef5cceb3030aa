"""Compiling the loops over time: numba where it is there, else the same functions as they are.

Machine code is kept beside the source for the next start. numba looks only at the file of a
function, not at the files of what it calls, so a change elsewhere (an update, an edit) would leave
old code running. Here all kept code goes when any source file of this room has changed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar, cast

F = TypeVar("F", bound=Callable[..., object])

try:
    import numba
except ImportError:  # the same functions run, only slowly
    numba = None

COMPILES = numba is not None


def _may_keep(room: Path) -> bool:
    """Return whether code may be kept beside the source: it is writable, and nothing old is left.

    Parameters
    ----------
    room : Path
        Folder of the source files.
    """
    digest = hashlib.sha256()
    for source in sorted(room.glob("*.py")):
        digest.update(source.name.encode() + source.read_bytes())
    kept = room / "__pycache__"
    stamp = kept / "compiled-from.txt"
    try:
        kept.mkdir(exist_ok=True)
        if not stamp.exists() or stamp.read_text() != digest.hexdigest():
            for old in (*kept.glob("*.nbi"), *kept.glob("*.nbc")):
                old.unlink(missing_ok=True)
            stamp.write_text(digest.hexdigest())
    except (OSError, ValueError):
        return False
    return True


if numba is not None:
    from numba.core.caching import FunctionCache

    class _Kept(FunctionCache):  # type: ignore[misc]  # numba has no types
        """Kept machine code that may fail: cut short, or on a disk that is full."""

        def load_overload(self, sig: object, target_context: object) -> object:
            """Return kept code; None where there is none that can be read."""
            try:
                return super().load_overload(sig, target_context)
            except Exception:  # noqa: BLE001  a broken pickle raises what it likes
                return None

        def save_overload(self, sig: object, data: object) -> None:
            """Keep code for the next start, where that can be."""
            for _ in range(2):
                try:
                    super().save_overload(sig, data)
                except Exception:  # noqa: BLE001  an index that is cut short goes, and is begun anew
                    with suppress(Exception):
                        self.flush()
                else:
                    return


_KEEP = COMPILES and _may_keep(Path(__file__).parent)


def compiled(function: F) -> F:
    """Compile a function of floats and arrays, with everything compiled that it calls.

    Divisions follow numpy (a division by nought is infinite, not an error), as in the same
    function run uncompiled on numpy's numbers. What it calls is put in its place: handing many
    arrays to a function costs more than a step of a few strings.
    """
    if numba is None:
        return function
    made = numba.njit(error_model="numpy", forceinline=True)(function)
    if _KEEP:
        made._cache = _Kept(function)  # noqa: SLF001  as `cache=True` does, but forgiving
    return cast(F, made)
