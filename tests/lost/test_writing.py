"""Every command that writes, where writing fails: nothing half, nothing lost.

`attack.py` runs them all in one process of its own: on a disk that is full, on one that is
read-only, in a folder without the right to write, and ended by force before a file is in place.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from attack import COMMANDS, MODES, OLD_PAGE, OLD_RECORD, OLD_SHEET

from evpack.cli.words import parser

SCRIPT = Path(__file__).parent / "attack.py"
OLD = {"old.html": OLD_PAGE, "old.toml": OLD_SHEET, "record.toml": OLD_RECORD}
SAYS = {
    "full": "No space left on device",
    "read-only": "Read-only file system",
    "denied": "Permission denied",
}
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="the disks are Linux's")


def can_mount(folder: Path) -> bool:
    """Return whether this machine lets a process put a small disk on a folder of its own."""
    if shutil.which("unshare") is None:
        return False
    words = ["unshare", "-rm", "mount", "-t", "tmpfs", "-o", "size=16k", "tmpfs", str(folder)]
    return subprocess.run(words, check=False, capture_output=True).returncode == 0


@pytest.fixture(scope="module", params=MODES)
def attacked(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[str, list[dict[str, Any]]]:
    mode = str(request.param)
    folder = tmp_path_factory.mktemp(mode)
    to = folder / "to"
    to.mkdir()
    words = [sys.executable, str(SCRIPT), mode, str(to)]
    if mode in {"full", "read-only"}:
        if not can_mount(to):
            pytest.skip("this machine lets nobody mount a disk; base/test_files.py fakes one")
        words = ["unshare", "-rm", *words]
    ended = subprocess.run(
        words,
        cwd=folder,
        env={**os.environ, "PYTHONWARNINGS": "ignore"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    to.chmod(0o755)
    assert ended.returncode == 0, ended.stderr
    found = json.loads(ended.stdout)
    if found is None:
        pytest.skip("this machine lets its superuser write anywhere; base/test_files.py denies it")
    return mode, found


def test_every_command_that_writes_is_attacked() -> None:
    """As the library's own words say: what takes a file to write stands in the list."""
    commands = parser()._subparsers._group_actions[0].choices  # type: ignore[union-attr]
    writing = {
        name
        for name, command in commands.items()
        if {"page", "cards", "write", "out", "share", "record", "folder"}
        & {action.dest for action in command._actions}
    }
    reading = {"as-built"}  # a record is read
    same = {"decide"}  # --share, which is `share`
    attacked_ones = {command.split()[0] for command in COMMANDS}
    assert writing - reading - same | {"start"} == attacked_ones


def test_nothing_new_is_there_and_all_old_is_as_it_was(
    attacked: tuple[str, list[dict[str, Any]]],
) -> None:
    _, found = attacked
    assert [one["command"] for one in found] == list(COMMANDS)
    for one in found:
        kept = {n: text for n, text in one["left"].items() if not n.endswith(".part")}
        assert kept == OLD, one["command"]


def test_it_is_said_in_one_line_that_is_no_verdict(
    attacked: tuple[str, list[dict[str, Any]]],
) -> None:
    mode, found = attacked
    for one in found:
        if mode == "killed":
            assert one["code"] == -9, one["command"]  # it did get as far as writing
            continue
        assert one["code"] == 2, one
        assert one["said"].startswith("evpack: "), one
        assert one["said"].count("\n") == 1, one
        assert SAYS[mode] in one["said"], one
        assert not [name for name in one["left"] if name.endswith(".part")], one
