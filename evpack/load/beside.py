"""Files that a sheet names beside itself."""

from __future__ import annotations

from pathlib import Path

import attrs

from evpack.base.errors import DescriptionError
from evpack.base.files import is_file

_SHOWN = 60  # characters of a name in a message


@attrs.frozen
class Beside:
    """The folder that the names in a sheet count from.

    Parameters
    ----------
    folder : Path
    confined : bool
        Nothing outside the folder is read: the sheet is not the reader's own, it came in a page.
    """

    folder: Path
    confined: bool = False

    def file(self, name: str, whose: str = "sheet") -> Path:
        """Return the path of a file that a sheet names.

        Parameters
        ----------
        whose : str
            What names it.

        Raises
        ------
        DescriptionError
            It is named from the root of the disk, lies where this sheet may not read, or is not
            there.
        """
        if Path(name).is_absolute():
            raise DescriptionError(
                f"give its path from the {whose}'s folder, so that both travel together"
            )
        path = self.folder / name
        if self.confined and not self._holds(path):
            raise DescriptionError(
                f"'{name[:_SHOWN]}' lies outside the page that this {whose} came in, which reads "
                f"nothing but what it brings along: save the {whose} beside that file, and use it "
                "there"
            )
        if not is_file(path):
            raise DescriptionError(f"there is no file '{name[:_SHOWN]}' beside the {whose}")
        return path

    def _holds(self, path: Path) -> bool:
        try:
            return path.resolve().is_relative_to(self.folder.resolve())
        except (OSError, ValueError, RuntimeError):
            return False
