"""Run every command that writes where writing fails, and tell what is left: not a test itself.

``python attack.py MODE FOLDER``, MODE one of full, read-only, denied, killed. The first two mount a
small disk on FOLDER and must stand in a mount namespace of their own (``unshare -rm``); `denied`
takes the right to pass over rights from the superuser; `killed` ends each command with SIGKILL
when its file is written and not yet in place. Prints JSON.
"""

from __future__ import annotations

import contextlib
import ctypes
import io
import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import nbformat

import evpack.base.files
from evpack import cli
from evpack.load.sheet import example

MODES = ("full", "read-only", "denied", "killed")
OLD_PAGE, OLD_SHEET, OLD_RECORD = "<p>old page</p>\n", "# old sheet\n", "# filled in by hand\n"
# Words of each command; `{to}` is the folder to write to. Targets called "old" are there already.
COMMANDS = (
    "start {to}/new.toml",
    "share barn.toml {to}/old.html --workbook small.ipynb --force",
    "sheets barn.toml {to}/new.html --only limits",
    "sheets barn.toml {to}/old.html --only limits --force",
    "commissioning barn.toml --record {to}/new.toml",
    "commissioning barn.toml --page {to}/new.html",
    "commissioning barn.toml --page {to}/old.html --force",
    "year year.toml --page {to}/new.html",
    "year year.toml --page {to}/old.html --force",
    "heap hill-heap --quick --page {to}/new.html",
    "heap hill-heap --quick --cards {to}/old.html --force",
    "trade-offs twelve.toml --pick 1 --write {to}/new.toml",
    "workbooks {to}/copied --no-open",
)
_DAC_OVERRIDE, _DROP = 1, 24  # the capability, and what drops one for all that comes (prctl)


def prepare() -> None:
    """Lay out what the commands read, in the working folder."""
    barn = example("wether-barn").read_text(encoding="utf-8")
    Path("barn.toml").write_text(barn, encoding="utf-8")
    year = barn.replace("[operation]", '[operation]\nlength = "1 day"')
    Path("year.toml").write_text(year, encoding="utf-8")
    shutil.copyfile(example("twelve"), "twelve.toml")
    small = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell("SHEET = ''", metadata={"tags": ["sheet"]})]
    )
    nbformat.write(small, "small.ipynb")


def lay_out(to: Path) -> None:
    """Put the old files where commands are told to write."""
    (to / "old.html").write_text(OLD_PAGE, encoding="utf-8")
    (to / "old.toml").write_text(OLD_SHEET, encoding="utf-8")
    (to / "record.toml").write_text(OLD_RECORD, encoding="utf-8")


def mounted(to: Path, *, full: bool) -> None:
    """Put a small disk on a folder, with the old files in it and no room left, or read-only."""
    mount = shutil.which("mount") or "/bin/mount"
    subprocess.run([mount, "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(to)], check=True)
    lay_out(to)
    if not full:
        subprocess.run([mount, "-o", "remount,ro", str(to)], check=True)
        return
    filler = os.open(to / "filler", os.O_WRONLY | os.O_CREAT)
    with contextlib.suppress(OSError):
        while os.write(filler, b"x" * 4096):
            pass


def denied(to: Path) -> None:
    """Take the right to write to a folder, from the superuser too, and begin anew without it."""
    if os.environ.get("ATTACK_AGAIN") == "1":
        if os.access(to, os.W_OK):
            print("null")  # this machine lets its superuser write all the same
            sys.exit(0)
        return
    lay_out(to)
    to.chmod(0o555)
    if os.geteuid() == 0:
        ctypes.CDLL(None).prctl(_DROP, _DAC_OVERRIDE, 0, 0, 0)
    os.environ["ATTACK_AGAIN"] = "1"
    os.execv(sys.executable, [sys.executable, *sys.argv])


def tried(words: list[str]) -> tuple[int, str]:
    """Run a command here; return its code and what it said of what went wrong."""
    said = io.StringIO()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(said):
        code = cli.main(words)
    return code, said.getvalue()


def killed(words: list[str]) -> tuple[int, str]:
    """Run a command in a process that ends by force when its file is written."""
    child = os.fork()
    if child == 0:

        def end(_handle: int) -> None:
            os.kill(os.getpid(), signal.SIGKILL)

        evpack.base.files.os.fsync = end  # type: ignore[attr-defined]
        tried(words)
        os._exit(0)  # it wrote nothing
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), ""


def left(to: Path) -> dict[str, str]:
    """Return the files below a folder, each with its beginning."""
    return {
        str(file.relative_to(to)): file.read_text(encoding="utf-8", errors="replace")[:60]
        for file in sorted(to.rglob("*"))
        if file.is_file() and file.name != "filler"
    }


def main(mode: str, to: Path) -> None:
    """Attack, and print what came of it."""
    prepare()
    if mode in {"full", "read-only"}:
        mounted(to, full=mode == "full")
    elif mode == "denied":
        denied(to)
    else:
        lay_out(to)
    run: Callable[[list[str]], tuple[int, str]] = killed if mode == "killed" else tried
    found = []
    for command in COMMANDS:
        code, said = run(command.format(to=to).split())
        found.append({"command": command, "code": code, "said": said, "left": left(to)})
    print(json.dumps(found))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]).resolve())
