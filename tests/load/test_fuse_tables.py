"""Fuses from the tables: families, standard sizes, melting gates."""

import pytest

from evpack.base.errors import OutsideTableError
from evpack.load.fuse_tables import fuse_catalogue


def test_fuse_catalogue_of_nec() -> None:
    held = fuse_catalogue("nec")
    assert held.sizes[:6] == (1, 3, 6, 10, 15, 20)
    assert 601 in held.sizes
    assert list(held.sizes) == sorted(held.sizes)
    assert held.sizes_source == "nec-240.6a"
    first = held.families[0]
    assert first.key == "class-t"
    assert (first.dc_voltage.m, first.interrupting.m) == (125, 20_000)
    assert "Confidence" in first.note


def test_fuse_catalogue_of_iec() -> None:
    held = fuse_catalogue("iec")
    assert held.families[0].key == "nh-gg"
    assert held.sizes[-1] == 1250
    assert {f.key for f in held.families} == {f.key for f in fuse_catalogue("nec").families}


def test_the_58_volt_families_are_below_a_full_14_cell_pack() -> None:
    by_key = {f.key: f for f in fuse_catalogue().families}
    for key in ("bolt-down-58", "cube-58"):
        assert by_key[key].dc_voltage.m < 58.8
        assert "58 V is less" in by_key[key].note


def test_unknown_rules() -> None:
    with pytest.raises(OutsideTableError, match="known here"):
        fuse_catalogue("ansi")


@pytest.mark.parametrize("rules", ["nec", "iec"])
def test_only_links_of_gg_have_gates(rules: str) -> None:
    held = fuse_catalogue(rules)
    assert [f.key for f in held.families if held.gate(f, 100.0)] == ["nh-gg"]
    by_key = {f.key: f for f in held.families}
    gate = held.gate(by_key["nh-gg"], 100.0)
    assert gate is not None
    assert (gate.holds_10s, gate.melts_5s, gate.holds_100ms, gate.melts_100ms) == (
        290,
        580,
        820,
        1450,
    )
    assert (gate.melting, gate.clearing) == (27_000, 86_000)
    assert held.gate(by_key["class-t"], 100.0) is None
    assert held.gates_source == "iec-60269"


@pytest.mark.parametrize("size", [10.0, 35.0, 224.0, 355.0])
def test_a_size_between_the_gates_has_none(size: float) -> None:
    held = fuse_catalogue("iec")
    assert size in held.sizes
    assert held.gate(held.families[0], size) is None
