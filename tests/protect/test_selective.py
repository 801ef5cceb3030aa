"""Which fuse opens first. Ratios of ratings from memory; worked by hand."""

from __future__ import annotations

import attrs
import pytest
from strategies import (
    good_build,
    good_cabling,
    good_conductor,
    good_family,
    with_module,
    with_pack,
    with_safeguards,
)

from evpack.base.finding import Finding, Severity
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.safeguards import FuseFamily
from evpack.design import design


def found(build: Build) -> dict[str, Finding]:
    keys = ("selective.string", "selective.main", "selective.two-strings")
    return {f.rule.key: f for f in design(build).findings if f.rule.key in keys}


@pytest.mark.parametrize(
    ("strings", "changes", "severity"),
    [
        # The faulted string's fuse carries what the others give together, N − 1 times one of them.
        (3, {"characteristic": "gG"}, Severity.OK),  # 2 ≥ 1.6
        (3, {"key": "class-j", "characteristic": ""}, Severity.OK),  # 2 ≥ 2
        (3, {"key": "class-t", "characteristic": ""}, Severity.NOTE),  # 2 < 3
        (
            3,
            {"characteristic": ""},
            Severity.NOTE,
        ),  # a family that nobody knows counts as the worst
        (4, {"key": "class-t", "characteristic": ""}, Severity.OK),  # 3 ≥ 3
    ],
)
def test_a_fault_in_one_string(strings: int, changes: dict[str, str], severity: Severity) -> None:
    family = good_family(**changes)
    build = with_pack(strings=strings)
    told = found(attrs_with(build, family))["selective.string"]
    assert (told.severity, told.value) == (severity, strings - 1)


def attrs_with(build: Build, family: FuseFamily) -> Build:
    safeguards = with_safeguards(string_fuse=family, main_fuse=family).safeguards
    return attrs.evolve(build, safeguards=safeguards)


def test_a_fault_behind_the_main_fuse() -> None:
    # Three times 80 A against 160 A is 1.5: not quite enough for gG links.
    gg = good_family(characteristic="gG")
    # gG links are made in 125 and 160 A: the cable must carry 160 · 1.6 / 1.45 = 176.6 A for one.
    wire = good_cabling(main=Run(name="main", conductor=good_conductor(177.0), length="1.5 m"))
    build = good_build(
        cabling=wire, safeguards=with_safeguards(string_fuse=gg, main_fuse=gg).safeguards
    )
    told = found(build)["selective.main"]
    assert (told.value, told.limit) == (3 * 80 / 160, 1.6)
    told = found(with_safeguards())["selective.main"]
    # A family that nobody knows asks for 3, on whichever side it stands.
    strange = good_family(characteristic="")
    for place in ("string_fuse", "main_fuse"):
        told = found(with_safeguards(**{place: strange}))["selective.main"]
        assert (told.severity, told.value, told.limit) == (Severity.NOTE, 1.6, 3.0)


def test_two_strings_are_never_selective_and_one_has_no_others() -> None:
    two = found(with_pack(strings=2))
    assert two["selective.two-strings"].severity is Severity.NOTE
    assert "selective.string" not in two
    one = found(with_pack(strings=1))
    assert "selective.two-strings" not in one
    assert "selective.string" not in one


def test_without_a_string_fuse_there_is_nothing_to_tell() -> None:
    assert found(with_module(link_limit="20 A")) == {}
