"""What evpack tells of its examples does not change unseen (golden: made by evpack, looked at)."""

from __future__ import annotations

import difflib

import pytest
from gilded import KEPT, TOLD

_SHOWN = 40  # lines of a difference


@pytest.mark.parametrize("name", TOLD)
def test_what_is_told_is_as_it_was(name: str) -> None:
    kept = (KEPT / name).read_text(encoding="utf-8").splitlines()
    told = TOLD[name]().splitlines()
    change = list(difflib.unified_diff(kept, told, "kept", "told", lineterm="", n=1))
    shown = "\n".join(line[:300] for line in change[:_SHOWN])
    assert not change, f"{name}\n{shown}\nIf that is meant: python tests/golden/gilded.py"


def test_nothing_is_kept_that_nobody_tells() -> None:
    assert {file.name for file in KEPT.iterdir()} == set(TOLD)
