"""What is advised against a finding helps: done to the sheet, it is gone, and the build goes."""

from __future__ import annotations

import tomllib
from collections import Counter
from typing import Any

import attrs
import pytest
from trade.table import GO, HERE, NOT_GO, TradeBuild, as_judged, judge, trade_builds

REMEDIES: list[dict[str, Any]] = tomllib.loads((HERE / "remedies.toml").read_text("utf-8"))[
    "remedy"
]
HELD = {build.name: build for build in trade_builds() if build.must == NOT_GO}


def _named(remedy: dict[str, Any]) -> str:
    return f"{remedy['of']}: {remedy['says']}"


def _followed(build: TradeBuild, changes: dict[str, Any]) -> TradeBuild:
    return attrs.evolve(
        build, must=GO, rule="", severity="", keys={**build.keys, **changes}, disputed=()
    )


@pytest.mark.parametrize("remedy", REMEDIES, ids=_named)
def test_what_is_advised_helps(remedy: dict[str, Any]) -> None:
    build = HELD[remedy["of"]]
    before = [found for found in judge(build).holding if found.rule.key == build.rule]
    advice = [found.remedy for found in before]
    assert any(remedy["says"] in each for each in advice), advice
    mended = _followed(build, remedy["set"])
    after = judge(mended)
    left = [found for found in after.holding if found.rule.key == build.rule]
    assert not left, f"{remedy['why']}\nevpack says:\n{after}"
    assert as_judged(mended, after), f"must go: {remedy['why']}\nevpack says:\n{after}"


def test_the_remedies_are_of_many_builds_and_many_rules() -> None:
    of = Counter(remedy["of"] for remedy in REMEDIES)
    assert len(of) >= 20
    assert len({HELD[name].rule for name in of}) >= 8
    assert all(remedy["why"].endswith(".") for remedy in REMEDIES)
    assert len({_named(remedy) for remedy in REMEDIES}) == len(REMEDIES)
