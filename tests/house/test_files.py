"""One way to write a file: nothing else in the house opens one for writing."""

from __future__ import annotations

import re
from pathlib import Path

import evpack

HOUSE = Path(evpack.__file__).parent
# What writes by itself, and why: neither touches a file of the user's.
BY_THEMSELVES = {
    "base/files.py": "the one way",
    "cli/__init__.py": "into nothing, what could not be printed",
    "kernels/compiled.py": "a stamp beside kept machine code, which may fail",
    "simulate/benchmark.py": "a passing folder of its own",
}
_WRITES = re.compile(
    r"\.write_(?:text|bytes)\(|\bopen\([^)]*[\"'][wxa+]|\.open\([\"'][wxa]|shutil\.(?:copy|move)"
    r"|os\.(?:open|rename|replace|link)\(|tempfile\."
)


def test_nothing_else_writes() -> None:
    found = {
        str(path.relative_to(HOUSE))
        for path in HOUSE.rglob("*.py")
        if _WRITES.search(path.read_text(encoding="utf-8"))
    }
    assert found == set(BY_THEMSELVES)
