"""What the bars add to uneven sharing. Worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from strategies import good_bar, good_build, good_cabling, good_pack, sound_builds, with_module

from evpack.base.finding import Finding, Severity
from evpack.describe.build import Build
from evpack.design import design


def found(build: Build) -> list[Finding]:
    return [f for f in design(build).findings if f.rule.key == "bar-sharing.even"]


def two(**bar: str) -> Build:
    return good_build(pack=good_pack(strings=2), cabling=good_cabling(bar=good_bar(**bar)))


def test_two_strings_and_one_piece_of_bar() -> None:
    # A string: half of 20 mΩ and a lead of 1.28 mΩ, 11.28 mΩ. Both bars of 30 × 10 mm, 0.3 m:
    # 41.935 µΩ. The near string carries 2 · 11.321935 / 22.601935 of an even share.
    (told,) = found(two())
    assert told.severity is Severity.OK
    assert told.value == pytest.approx(2 * 11.321935 / 22.601935, rel=1e-6)
    assert told.limit == pytest.approx(1.2)


def test_long_thin_bars_ask_for_opposite_ends() -> None:
    # 20 × 3 mm, 20 m long: 2 · 20 · 0.0209676 / 60 = 13.978 mΩ; 2 · 25.258 / 36.538 = 1.3825.
    (told,) = found(two(width="20 mm", thickness="3 mm", length="20 m"))
    assert told.severity is Severity.CAUTION
    assert told.value == pytest.approx(2 * 25.2584 / 36.5384, rel=1e-4)
    assert "opposite ends of the bars, where it would be 100 %" in told.remedy


def test_what_is_not_known_is_asked_for_elsewhere() -> None:
    assert found(good_build(pack=good_pack(strings=1))) == []
    assert found(with_module(resistance=None)) == []
    assert found(good_build(cabling=good_cabling(bar=None))) == []
    assert found(good_build(cabling=good_cabling(module_lead=None))) == []


@given(build=sound_builds())
def test_a_share_is_never_below_an_even_one(build: Build) -> None:
    for told in found(build):
        assert told.value is not None
        assert told.value >= 1 - 1e-9
