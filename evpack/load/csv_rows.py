"""Rows of a CSV file, a piece at a time: a table of 100 MB is refused at its first bad line."""

from __future__ import annotations

import csv
import io
from itertools import islice
from pathlib import Path

from evpack.base.errors import DataError
from evpack.base.files import read_bytes

# A record of one cell has a few megabytes; beyond this something else was picked by mistake.
_MOST_BYTES = 200_000_000


def table_bytes(path: Path, what: str = "bench record") -> bytes:
    """Return what a table of readings holds, or refuse what is no text.

    Parameters
    ----------
    what : str
        What the table is, in messages.

    Raises
    ------
    DataError
        It cannot be read, is too large, empty, or plainly no text.
    """
    raw = read_bytes(
        path,
        path.name,
        most=_MOST_BYTES,
        too_large=f"holds more than a {what} may; one of at most {_MOST_BYTES / 1e6:.0f} MB is "
        "needed",
        what="a CSV file is needed",
    )
    if b"\0" in raw:
        raise no_text(path.name, what)
    if not raw.removeprefix(b"\xef\xbb\xbf").strip():
        raise DataError(path.name, "", "is empty; a row of labels and rows of numbers are needed")
    return raw


def no_text(file: str, what: str) -> DataError:
    """Return the error of a file that is no text."""
    return DataError(
        file, "", f"is not UTF-8 text; save the {what} as CSV text (UTF-8), not as a sheet"
    )


class Rows:
    """The rows of a table, read in pieces."""

    def __init__(self, file: str, raw: bytes, what: str = "bench record") -> None:
        self._file, self._what = file, what
        lines = io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8-sig", newline="")
        self._reader = csv.reader(lines)

    @property
    def line(self) -> int:
        """Return the number of the last line read."""
        return self._reader.line_num

    def piece(self, most: int) -> list[list[str]]:
        """Return the next rows; none at the end.

        Raises
        ------
        DataError
            No CSV, or no text.
        """
        try:
            return list(islice(self._reader, most))
        except csv.Error as failure:
            raise DataError(self._file, f"line {self.line}", f"is no CSV ({failure})") from None
        except UnicodeDecodeError:
            raise no_text(self._file, self._what) from None
