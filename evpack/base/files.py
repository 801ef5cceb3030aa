"""Files in and out: read within bounds, written whole or not at all.

A file is written beside its place, brought to the disk and then put in place at once: whatever
ends the program (a full disk, a pulled plug), a reader finds the old file or the new one, never
half of one.
"""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

from evpack.base.errors import DataError, EvpackError

_NO_NAME = "its name is not one a file can have"
_BESIDE = ".evpack-{}.part"  # short, whatever the name of the file itself
_OPEN_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_CLOEXEC", 0)
_OPEN_OLD = os.O_RDONLY | getattr(os, "O_CLOEXEC", 0)
# Of a pipe that nobody writes to, opening does not wait; Windows has neither flag nor pipe.
_OPEN_OLD |= getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_PIECE = 1 << 20  # bytes
_FORGOTTEN = 3600.0  # s, from which age on a file beside its place is what a forced end left


class ThereAlreadyError(EvpackError):
    """A file that is there and may not be replaced."""


def why(problem: OSError | ValueError) -> str:
    """Return why the system refused a file, in its own words."""
    return getattr(problem, "strerror", None) or _NO_NAME


def is_file(path: Path) -> bool:
    """Return whether there is an ordinary file; a name that no file can have is none."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def read_bytes(path: Path, name: str, *, most: int, too_large: str, what: str = "") -> bytes:
    """Return what an ordinary file holds.

    Parameters
    ----------
    name : str
        How the file is called in messages.
    most : int
        Bytes that are read at most.
    too_large : str
        What is said of a larger one.
    what : str
        What is needed instead of a file that cannot be read.

    Raises
    ------
    DataError
        It is missing, no ordinary file (a folder, a pipe, a device), too large, or cannot be read.
    """
    told = f"; {what}" if what else ""
    try:
        handle = os.open(path, _OPEN_OLD)
        try:
            found = os.fstat(handle)
            _refuse_odd(found.st_mode, name)
            file = open(handle, "rb")  # noqa: PTH123, SIM115  a handle, closed below
        except BaseException:
            os.close(handle)
            raise
        with file:
            if found.st_size > most:
                raise DataError(name, "", too_large)
            pieces, got = [], 0
            while got <= most and (piece := file.read(min(_PIECE, most + 1 - got))):
                pieces.append(piece)
                got += len(piece)
    except (OSError, ValueError) as problem:
        if isinstance(problem, DataError):
            raise
        if isinstance(problem, IsADirectoryError):
            raise DataError(name, "", "is a folder; a file is needed") from None
        raise DataError(name, "", f"cannot be read ({why(problem)}){told}") from None
    if got > most:
        raise DataError(name, "", too_large)
    return b"".join(pieces)


def _refuse_odd(kind: int, name: str) -> None:
    if stat.S_ISDIR(kind):
        raise DataError(name, "", "is a folder; a file is needed")
    if not stat.S_ISREG(kind):
        raise DataError(name, "", "is not a regular file")


def write_whole(
    target: Path,
    content: str | bytes,
    *,
    replace: bool = False,
    otherwise: str = "choose another name",
) -> Path:
    """Write a file beside its place, and put it there at once.

    Parameters
    ----------
    replace : bool
        Whether an ordinary file that is there may go; a link is followed to its file.
    otherwise : str
        What is said where a file is there that may not.

    Raises
    ------
    ThereAlreadyError
        The file is there, and may not be replaced. It is as it was.
    EvpackError
        It cannot be written: nothing is, and a file that was there is as it was.
    """
    raw = content.encode("utf-8") if isinstance(content, str) else content
    try:
        aim = Path(os.path.realpath(target)) if replace else target
        mode = _mode_of(aim) if replace else None
        if not replace:
            _refuse_there(aim)
        _sweep(aim.parent)
        part = aim.with_name(_BESIDE.format(uuid.uuid4().hex[:12]))
        try:
            _fill(part, raw, mode)
            if replace:
                part.replace(aim)
            else:
                _put_new(part, aim)
        finally:
            with contextlib.suppress(OSError):
                part.unlink()
        _settle(aim.parent)
    except FileExistsError:
        raise ThereAlreadyError(f"{target}: is there already; {otherwise}") from None
    except (OSError, ValueError) as problem:
        if isinstance(problem, EvpackError):
            raise
        raise EvpackError(f"{target}: cannot be written: {why(problem)}") from None
    return target


def _sweep(folder: Path) -> None:
    """Take away what a write that was ended by force left behind."""
    with contextlib.suppress(OSError):
        for part in folder.glob(_BESIDE.format("*")):
            if time.time() - part.stat().st_mtime > _FORGOTTEN:
                part.unlink()


def _refuse_there(aim: Path) -> None:
    if os.path.lexists(aim):
        raise FileExistsError


def _mode_of(aim: Path) -> int | None:
    """Return the rights of a file that is to be replaced; None where there is none."""
    try:
        kind = aim.stat().st_mode
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(kind):
        raise EvpackError(f"{aim.name}: is a folder; the name of a file is needed")
    if not stat.S_ISREG(kind):
        raise EvpackError(f"{aim.name}: is not a regular file, and is not replaced")
    return stat.S_IMODE(kind)


def _fill(part: Path, raw: bytes, mode: int | None) -> None:
    """Write a new file and bring it to the disk."""
    with open(os.open(part, _OPEN_NEW, 0o666), "wb") as file:  # noqa: PTH123  a handle
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())
    if mode is not None:
        with contextlib.suppress(OSError):
            part.chmod(mode)


def _put_new(part: Path, aim: Path) -> None:
    """Give a written file its name, unless another has it: a second name is given or refused."""
    try:
        os.link(part, aim)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError, AttributeError):
        # No second names on this file system (FAT, some shares): the name is taken first, then
        # the file put there.
        os.close(os.open(aim, _OPEN_NEW, 0o666))
        try:
            part.replace(aim)
        except BaseException:
            with contextlib.suppress(OSError):
                aim.unlink()
            raise


def _settle(folder: Path) -> None:
    """Bring the names in a folder to the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def passing_folder() -> Iterator[Path]:
    """Yield a folder that is gone afterwards.

    Raises
    ------
    EvpackError
        There is no room for one.
    """
    try:
        folder = tempfile.TemporaryDirectory(prefix="evpack-", ignore_cleanup_errors=True)
    except OSError as problem:
        raise EvpackError(f"no passing folder can be made: {why(problem)}") from None
    with folder as name:
        yield Path(name)
