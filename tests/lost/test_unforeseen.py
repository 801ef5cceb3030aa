"""What nobody foresaw is no verdict: one line, code 3. And caches that fail are no caches."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numba.core import caching

import evpack.design  # noqa: F401  its module is reached by name below
from evpack import cli
from evpack.kernels import compiled
from evpack.load.sheet import example

BARN = str(example("wether-barn"))
MAIN = "import sys; from evpack import cli; sys.exit(cli.main(sys.argv[1:]))"


def run(*words: str, code: str = MAIN, **env: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code, *words],
        env={**os.environ, **env},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize("error", [ZeroDivisionError, MemoryError, RecursionError, OSError])
def test_an_error_that_nobody_foresaw_is_one_line_and_code_3(
    error: type[Exception], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def breaks(*_: object) -> None:
        raise error("a \x1b[31mreason\nin two lines")

    monkeypatch.setattr(sys.modules["evpack.design"], "design", breaks)
    assert cli.main(["decide", BARN]) == 3
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert f"{error.__name__}: a [31mreason in two lines" in said.err
    assert "no verdict on any build" in said.err
    assert "report it" in said.err
    assert "--traceback" in said.err
    for words in (["--traceback", "decide", BARN], ["decide", BARN, "--traceback"]):
        assert cli.main(words) == 3
        assert "test_unforeseen.py" in capsys.readouterr().err


def test_a_library_that_cannot_be_loaded_is_no_verdict_either(tmp_path: Path) -> None:
    (tmp_path / "numpy.py").write_text("raise RuntimeError('broken')", encoding="utf-8")
    ended = run("decide", BARN, PYTHONPATH=str(tmp_path))
    assert ended.returncode == 3
    assert (ended.stdout, ended.stderr.count("\n")) == ("", 1)
    assert "RuntimeError: broken" in ended.stderr


def test_the_command_that_is_installed_says_so_too(tmp_path: Path) -> None:
    (tmp_path / "pint.py").write_text("raise RuntimeError('broken')", encoding="utf-8")
    command = Path(sys.executable).with_name("evpack")
    words = [str(command), "decide", BARN] if command.exists() else []
    words = words or [sys.executable, "-m", "evpack.cli", "decide", BARN]
    env = {**os.environ, "PYTHONPATH": str(tmp_path)}
    ended = subprocess.run(words, env=env, capture_output=True, text=True, check=False)
    assert ended.returncode == 3
    assert "Traceback" not in ended.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no such device here")
def test_an_answer_that_cannot_be_written_is_no_verdict() -> None:
    with Path("/dev/full").open("w") as full:
        ended = subprocess.run(
            [sys.executable, "-c", MAIN, "decide", BARN],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert ended.returncode == 3
    assert ended.stderr.count("\n") == 1
    assert "No space left" in ended.stderr


def test_an_output_that_is_closed_is_no_traceback_and_keeps_the_verdict() -> None:
    words = " ".join([sys.executable, "-c", f"'{MAIN}'", "decide", BARN, ">&-"])
    ended = subprocess.run(["/bin/sh", "-c", words], stderr=subprocess.PIPE, text=True, check=False)
    assert (ended.returncode, ended.stderr) == (0, "")


# --- Caches -----------------------------------------------------------------------------------

VERDICT = "WORKS WITH LIMITS"


def damaged(raw: bytes, how: str) -> bytes:
    return {"empty": b"", "cut": raw[: len(raw) // 2], "other": b"\x80no"}[how]


def kept_units(cache: Path) -> list[Path]:
    run("decide", BARN, XDG_CACHE_HOME=str(cache), HOME=str(cache))
    return [file for file in cache.rglob("*") if file.is_file() and "pint" in str(file)]


@pytest.mark.parametrize("damage", ["empty", "cut", "other", "folder"])
def test_a_damaged_cache_of_units_is_no_cache(tmp_path: Path, damage: str) -> None:
    kept = kept_units(tmp_path)
    assert kept, "pint keeps nothing any more: is the test still about something?"
    for file in kept:
        raw = file.read_bytes()
        file.unlink()
        if damage == "folder":
            file.mkdir()
        else:
            file.write_bytes(
                {"empty": b"", "cut": raw[: len(raw) // 2], "other": b"\x80no"}[damage]
            )
    ended = run("decide", BARN, XDG_CACHE_HOME=str(tmp_path), HOME=str(tmp_path))
    assert (ended.returncode, ended.stderr) == (0, "")
    assert VERDICT in ended.stdout


@pytest.mark.parametrize("place", ["/proc/no-such-place", "/dev/null"])
def test_a_home_that_cannot_be_written_costs_only_time(place: str) -> None:
    ended = run("decide", BARN, XDG_CACHE_HOME=place, HOME=place)
    assert (ended.returncode, ended.stderr) == (0, "")
    assert VERDICT in ended.stdout


def loop(folder: Path) -> object:
    """Return a compiled function from a file of its own, as if for the first time."""
    file = folder / "loop.py"
    file.write_text("def triple(x):\n    return 3.0 * x\n", encoding="utf-8")
    spec = importlib.util.spec_from_file_location("loop", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return compiled.compiled(module.triple)


@pytest.mark.parametrize("damage", ["empty", "cut", "other"])
def test_damaged_machine_code_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, damage: str
) -> None:
    monkeypatch.setattr(compiled, "_KEEP", True)
    assert loop(tmp_path)(2.0) == 6.0  # type: ignore[operator]
    kept = sorted((tmp_path / "__pycache__").glob("loop.triple*"))
    assert [file.suffix for file in kept] == [".nbc", ".nbi"]
    for file in kept:
        raw = file.read_bytes()
        file.write_bytes(damaged(raw, damage))
        again = loop(tmp_path)
        assert again(2.0) == 6.0  # type: ignore[operator]
    # And is kept again: the next one finds it.
    once_more = loop(tmp_path)
    assert once_more(np.float64(2.0)) == 6.0  # type: ignore[operator]
    assert sum(once_more.stats.cache_hits.values()) == 1  # type: ignore[attr-defined]


def test_machine_code_that_cannot_be_kept_runs_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(compiled, "_KEEP", True)
    monkeypatch.setattr(caching.IndexDataCacheFile, "save", full)
    assert loop(tmp_path)(2.0) == 6.0  # type: ignore[operator]
