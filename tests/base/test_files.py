"""Files in and out: whole or not at all, and within bounds. All worked on real files."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base import files
from evpack.base.errors import DataError, EvpackError
from evpack.base.files import (
    ThereAlreadyError,
    is_file,
    passing_folder,
    read_bytes,
    write_whole,
)


def names(folder: Path) -> list[str]:
    return sorted(file.name for file in folder.iterdir())


def read(path: Path, most: int = 100) -> bytes:
    return read_bytes(path, path.name, most=most, too_large="is too large")


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    assert write_whole(tmp_path / "a.txt", "10 mΩ\n") == tmp_path / "a.txt"
    assert read(tmp_path / "a.txt") == "10 mΩ\n".encode()
    assert write_whole(tmp_path / "b.bin", b"\r\n\0") == tmp_path / "b.bin"
    assert read(tmp_path / "b.bin") == b"\r\n\0"
    assert names(tmp_path) == ["a.txt", "b.bin"]


@given(raw=st.binary(max_size=2000))
def test_whatever_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, raw: bytes
) -> None:
    path = tmp_path_factory.mktemp("files") / "a"
    write_whole(path, raw)
    assert read(path, most=len(raw)) == raw
    if raw:
        with pytest.raises(DataError, match="too large"):
            read(path, most=len(raw) - 1)


def test_a_file_that_is_there_stays_unless_it_may_go(tmp_path: Path) -> None:
    path = write_whole(tmp_path / "a", "old")
    with pytest.raises(ThereAlreadyError, match="is there already; ask first"):
        write_whole(path, "new", otherwise="ask first")
    assert path.read_text() == "old"
    write_whole(path, "new", replace=True)
    assert (path.read_text(), names(tmp_path)) == ("new", ["a"])


def test_what_is_replaced_keeps_its_rights_and_a_link_its_file(tmp_path: Path) -> None:
    path = write_whole(tmp_path / "a", "old")
    path.chmod(0o640)
    (tmp_path / "link").symlink_to(path)
    write_whole(tmp_path / "link", "new", replace=True)
    assert (tmp_path / "link").is_symlink()
    assert (path.read_text(), path.stat().st_mode & 0o777) == ("new", 0o640)
    # A link that leads nowhere is a name that is taken.
    (tmp_path / "lost").symlink_to(tmp_path / "nowhere")
    with pytest.raises(ThereAlreadyError):
        write_whole(tmp_path / "lost", "new")
    assert not (tmp_path / "nowhere").exists()


def test_a_new_file_has_the_rights_that_the_user_gives_new_files(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "a", "x")
    finally:
        os.umask(before)
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("replace", [True, False])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EDQUOT])
@pytest.mark.parametrize("step", ["open", "fsync", "replace", "link"])
def test_whatever_step_fails_the_old_file_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, number: int, *, replace: bool
) -> None:
    old = write_whole(tmp_path / "old", "old")

    def fails(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    place, name = (Path, "replace") if step == "replace" else (files.os, step)
    monkeypatch.setattr(place, name, fails)
    if step == "link":  # where there is no second name, the first is taken
        monkeypatch.setattr(Path, "replace", fails)
    target = old if replace else tmp_path / "new"
    reached = {"replace": replace, "link": not replace}.get(step, True) or step == "link"
    if not reached:
        assert write_whole(target, "new", replace=replace).read_text() == "new"
        return
    with pytest.raises(EvpackError, match=os.strerror(number)):
        write_whole(target, "new", replace=replace)
    monkeypatch.undo()
    assert (names(tmp_path), old.read_text()) == (["old"], "old")


def test_where_no_file_has_two_names_it_is_written_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(files.os, "link", none)
    assert write_whole(tmp_path / "a", "x").read_text() == "x"
    with pytest.raises(ThereAlreadyError):
        write_whole(tmp_path / "a", "y")
    assert names(tmp_path) == ["a"]


def test_one_who_is_faster_is_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound: Callable[[int], None] = os.fsync

    def meanwhile(handle: int) -> None:
        sound(handle)
        (tmp_path / "a").write_text("another's")

    monkeypatch.setattr(files.os, "fsync", meanwhile)
    with pytest.raises(ThereAlreadyError):
        write_whole(tmp_path / "a", "mine")
    assert ((tmp_path / "a").read_text(), names(tmp_path)) == ("another's", ["a"])


def test_what_a_forced_end_left_is_swept_away_in_time(tmp_path: Path) -> None:
    left, fresh = tmp_path / ".evpack-0123.part", tmp_path / ".evpack-4567.part"
    for part in (left, fresh):
        part.write_text("half")
    an_hour_ago = time.time() - 3700
    os.utime(left, (an_hour_ago, an_hour_ago))
    write_whole(tmp_path / "a", "x")
    assert names(tmp_path) == [".evpack-4567.part", "a"]


@pytest.mark.parametrize("name", ["a\0b", "x" * 300, "no/such/folder", ""])
def test_a_name_that_cannot_be_is_told(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    if name:
        with pytest.raises(DataError, match="cannot be read"):
            read(path)
        assert not is_file(path)
    for replace in (True, False):
        with pytest.raises(EvpackError, match=r"cannot be written|is a folder|is there already"):
            write_whole(path, "x", replace=replace)
    assert names(tmp_path) == []


def test_only_an_ordinary_file_is_read_or_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "zero").symlink_to("/dev/zero")
    for name in ("pipe", "zero"):
        with pytest.raises(DataError, match="is not a regular file"):
            read(tmp_path / name)
        with pytest.raises(EvpackError, match="is not a regular file"):
            write_whole(tmp_path / name, "x", replace=True)
    held = len(list(Path("/proc/self/fd").iterdir())) if Path("/proc/self/fd").exists() else 0
    for _ in range(5):
        with pytest.raises(DataError, match="is a folder"):
            read(tmp_path)
    if held:  # no handle is left open
        assert len(list(Path("/proc/self/fd").iterdir())) == held
    with pytest.raises(EvpackError, match="is a folder"):
        write_whole(tmp_path, "x", replace=True)


def test_a_passing_folder_is_gone_afterwards(monkeypatch: pytest.MonkeyPatch) -> None:
    with passing_folder() as folder:
        write_whole(folder / "a", "x")
    assert not folder.exists()

    def full(**_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(files.tempfile, "TemporaryDirectory", full)
    with pytest.raises(EvpackError, match="no passing folder"), passing_folder():
        pass


def test_messages_cannot_steer_a_terminal() -> None:
    told = str(DataError("a.toml", "key", "is '\x1b]0;owned\x07', 1\x9b31m, \u202eexe"))
    assert all(sign.isprintable() for sign in told)
    assert "two\nlines" in str(EvpackError("two\nlines"))
