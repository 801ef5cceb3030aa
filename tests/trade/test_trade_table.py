"""The trade's own builds: each must go or must not, for the reason that stands beside it."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from trade.table import GO, NOT_GO, TradeBuild, as_judged, disputes, judge, trade_builds, written

from evpack.base.errors import EvpackError
from evpack.benchmark import trade_table
from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import parse_sheet

BUILDS = trade_builds()


def _cases(must: str) -> list[Any]:
    """Return the builds; one that is disputed or waits must come out wrong, until it is mended."""
    return [
        pytest.param(
            build,
            id=build.name,
            marks=[pytest.mark.xfail(strict=True, reason=build.wrong)] if build.wrong else [],
        )
        for build in BUILDS
        if build.must == must
    ]


@pytest.mark.parametrize("build", _cases(GO))
def test_it_goes(build: TradeBuild) -> None:
    decision = decide(design(parse_sheet(build.sheet, build.name)))
    held = "\n".join(f"{found.rule.key}: {found}" for found in decision.held_by)
    assert decision.go, f"must go: {build.why} ({build.source})\nevpack holds it by:\n{held}"
    judged = judge(build)
    assert as_judged(build, judged), f"{build.fuses}: {build.why}\nevpack says:\n{judged}"


@pytest.mark.parametrize("build", _cases(NOT_GO))
def test_it_does_not_go_and_for_the_reason_that_is_named(build: TradeBuild) -> None:
    judged = judge(build)
    named = build.refused or f"{build.rule} ({build.severity})"
    assert as_judged(build, judged), (
        f"must not go, held by {named}: {build.why} ({build.source})\nevpack says:\n{judged}"
    )


# --- The table itself --------------------------------------------------------------------------


def test_the_table_spans_what_the_trade_builds() -> None:
    counted = Counter(build.must for build in BUILDS)
    assert counted[GO] >= 25
    assert counted[NOT_GO] >= 20
    went = [build.document for build in BUILDS if build.must == GO]
    for must in (GO, NOT_GO):
        assert {b.document["site"]["rules"] for b in BUILDS if b.must == must} == {"nec", "iec"}
    assert {d["pack"]["strings"] for d in went} >= {1, 2, 3, 4, 6, 8, 12}
    cells = {d["pack"]["modules_in_series"] * d["module"]["cells_in_series"] for d in went}
    assert cells >= {4, 7, 8, 10, 12, 14, 16, 28, 96}  # 12 V to 400 V
    assert {d["module"]["chemistry"] for d in went} == {"nmc-lmo", "nmc", "lmo", "lfp", "lto"}
    chargers = [c for d in went for c in d.get("charger", [])]
    assert {c["source"] for c in chargers} == {"solar", "mains", "generator"}
    kinds = {f.get("kind", "fuse") for d in went for f in _fuses(d)}
    assert kinds == {"fuse", "breaker"}


def _fuses(document: dict[str, Any]) -> list[dict[str, Any]]:
    places = ("string_fuse", "main_fuse", "charger_fuse", "array_fuse")
    return [document["protection"][p] for p in places if p in document["protection"]]


def test_no_two_builds_share_a_name_or_a_sheet() -> None:
    assert len({build.name for build in BUILDS}) == len(BUILDS)
    complete = [build for build in BUILDS if not build.waiting]
    sheets = Counter(written({**build.document, "title": ""}) for build in complete)
    assert max(sheets.values()) == 1


def test_every_dispute_names_builds_of_the_table() -> None:
    names = {build.name for build in BUILDS}
    for each in disputes():
        assert each["today"], each
        assert each["held"], each
        assert each["builds"], each
        assert set(each["builds"]) <= names, set(each["builds"]) - names


@pytest.mark.parametrize("build", BUILDS, ids=lambda build: build.name)
def test_every_build_gives_its_numbers_and_where_they_stand(build: TradeBuild) -> None:
    assert build.why.endswith(".")
    assert any(
        word in build.source
        for word in ("from memory", "common practice, no source", "print", "physics", "law")
    ) or build.source in {"arithmetic", "counting"}
    assert (build.must == NOT_GO) == bool(build.rule or build.refused)
    assert bool(build.rule) == (build.severity in {"stop", "unknown"})


@pytest.mark.parametrize("build", BUILDS, ids=lambda build: build.name)
def test_the_sheet_is_the_document_as_toml(build: TradeBuild) -> None:
    assert tomllib.loads(build.sheet) == build.document


# --- What the table's own judging can tell apart -------------------------------------------------


def _build(**changes: Any) -> TradeBuild:
    fields: dict[str, Any] = {"name": "x", "base": "mill-102", "must": GO, "why": "", "source": ""}
    return TradeBuild(**{**fields, **changes})


def test_a_build_that_goes_is_not_one_that_must_not() -> None:
    good = judge(_build())
    assert as_judged(_build(), good)
    assert not as_judged(_build(must=NOT_GO, rule="poles.both", severity="stop"), good)


def test_a_build_held_by_another_rule_or_another_weight_is_not_as_judged() -> None:
    bad = judge(_build(keys={"monitoring": "none"}))
    assert not as_judged(_build(), bad)
    for rule, severity, same in (
        ("monitoring.every-cell", "stop", True),
        ("monitoring.every-cell", "unknown", False),
        ("poles.both", "stop", False),
    ):
        named = _build(must=NOT_GO, rule=rule, severity=severity)
        assert as_judged(named, bad) is same


def test_a_build_that_goes_with_a_fuse_that_nobody_would_take_is_not_as_judged() -> None:
    good = judge(_build())
    (main,) = (size for kind, size in good.fuses if kind == "main")
    assert as_judged(_build(fuses={"main": [main]}), good)
    assert not as_judged(_build(fuses={"main": [main + 1]}), good)


def test_a_sheet_that_is_refused_neither_goes_nor_is_held_by_a_rule() -> None:
    refused = judge(_build(drop=("pack.modules_in_series",)))
    assert "modules_in_series" in refused.refusal
    assert not as_judged(_build(), refused)
    assert as_judged(_build(must=NOT_GO, refused="pack.modules_in_series"), refused)
    assert not as_judged(_build(must=NOT_GO, refused="load.continuous"), refused)
    with pytest.raises(EvpackError, match="modules_in_series"):
        parse_sheet(_build(drop=("pack.modules_in_series",)).sheet)


# --- The benchmark's line ------------------------------------------------------------------------


def test_the_benchmark_counts_the_table() -> None:
    first, *rest = trade_table()
    wrong = [build.name for build in BUILDS if build.wrong]
    assert first == f"{len(BUILDS) - len(wrong)} of {len(BUILDS)} trade builds come out as judged"
    named = {line.split(": ", 1)[1] for line in rest if ": " in line}
    assert named == set(wrong)


def test_without_a_checkout_the_benchmark_says_so(tmp_path: Path) -> None:
    (told,) = trade_table(tmp_path / "table.py")
    assert "not here" in told
