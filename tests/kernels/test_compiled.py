"""Code kept beside the source goes when any source of its room changes."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path

import pytest

from evpack.kernels import compiled


@pytest.fixture
def room(tmp_path: Path) -> Path:
    (tmp_path / "one.py").write_text("x = 1\n", encoding="utf-8")
    (tmp_path / "other.py").write_text("y = 1\n", encoding="utf-8")
    assert compiled._may_keep(tmp_path)
    for name in ("one.f-1.py311.nbi", "one.f-1.py311.1.nbc"):
        (tmp_path / "__pycache__" / name).write_bytes(b"old")
    return tmp_path


def kept(room: Path) -> list[str]:
    return sorted(p.suffix for p in (room / "__pycache__").iterdir() if p.suffix != ".txt")


def test_nothing_changed_keeps_the_code(room: Path) -> None:
    assert compiled._may_keep(room)
    assert kept(room) == [".nbc", ".nbi"]


@pytest.mark.parametrize("change", ["edited", "added", "renamed", "removed"])
def test_any_change_in_the_room_throws_the_code_away(room: Path, change: str) -> None:
    other = room / "other.py"
    if change == "edited":
        other.write_text("y = 2\n", encoding="utf-8")
    elif change == "added":
        (room / "third.py").write_text("", encoding="utf-8")
    elif change == "renamed":
        other.rename(room / "another.py")
    else:
        other.unlink()
    assert compiled._may_keep(room)
    assert kept(room) == []
    (room / "__pycache__" / "new.nbc").write_bytes(b"new")
    assert compiled._may_keep(room)
    assert kept(room) == [".nbc"]


def test_where_nothing_can_be_written_nothing_is_kept(tmp_path: Path) -> None:
    """A file stands where the folder of kept code would be made."""
    (tmp_path / "one.py").write_text("x = 1\n", encoding="utf-8")
    (tmp_path / "__pycache__").write_bytes(b"")
    assert not compiled._may_keep(tmp_path)


def test_without_the_compiler_the_function_itself_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """The module once more, as it loads where numba is not installed."""
    monkeypatch.setitem(sys.modules, "numba", None)
    spec = importlib.util.spec_from_file_location("again", compiled.__file__)
    assert spec is not None
    assert spec.loader is not None
    again = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(again)

    def double(x: float) -> float:
        return 2 * x

    assert not again.COMPILES
    assert again.compiled(double) is double


@pytest.mark.skipif(
    os.environ.get("NUMBA_DISABLE_JIT") == "1", reason="nothing is compiled in this run"
)
def test_a_compiled_function_divides_by_nought_as_numpy_does() -> None:
    @compiled.compiled
    def divided(x: float, y: float) -> float:
        return x / y

    assert divided(1.0, 0.0) == float("inf")
