"""Fuses as they are sold, from the tables: families, standard sizes, melting gates."""

from __future__ import annotations

import functools

from evpack.base.basis import Basis
from evpack.base.errors import OutsideTableError, nearest
from evpack.base.units import CURRENT, VOLTAGE
from evpack.describe.fuses import FuseCatalogue, FuseFamily, FuseGate
from evpack.describe.site import RULE_SETS
from evpack.load.tables import table

_GATES = "iec_60269_gg_gates"
# Field of a gate -> heading of its column.
_GATE_COLUMNS = {
    "rating": "rating [A]",
    "holds_10s": "holds for 10 s [A]",
    "melts_5s": "melts within 5 s [A]",
    "holds_100ms": "holds for 0.1 s [A]",
    "melts_100ms": "melts within 0.1 s [A]",
    "melting": "least melting I2t at 0.01 s [A2s]",
    "clearing": "most melting I2t at 0.01 s [A2s]",
}


@functools.cache
def fuse_catalogue(rules: str = "nec") -> FuseCatalogue:
    """Return the fuse families in the order they are tried, the standard sizes and gates of gG.

    Parameters
    ----------
    rules : {"nec", "iec"}
        Sizes of NEC 240.6(A), those for fuses only included, or the preferred ones of IEC 60269.

    Raises
    ------
    OutsideTableError
        Any other rule set.
    """
    if rules not in RULE_SETS:
        raise OutsideTableError(f"rules '{rules}' are not held{nearest(rules, RULE_SETS)}")
    held = table("fuse_families")
    columns = held.columns
    rows = [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]
    rows = sorted((r for r in rows if r[f"{rules} [1]"]), key=lambda r: int(r[f"{rules} [1]"]))
    by_iec = tuple(sorted(table("iec_60269_sizes").numbers("rating [A]")))
    sizes = table("nec_240_6a" if rules == "nec" else "iec_60269_sizes")
    breakers: tuple[float, ...] = ()
    if rules == "nec":
        kinds = sizes.columns["kind"]
        ratings = sizes.numbers("rating [A]")
        breakers = tuple(
            sorted(r for r, kind in zip(ratings, kinds, strict=True) if "breaker" in kind)
        )
    return FuseCatalogue(
        families=tuple(
            FuseFamily(
                key=row["key"],
                characteristic=row["characteristic"],
                name=row["name"],
                standard=row["standard"],
                dc_voltage=VOLTAGE.of(float(row["dc voltage [V]"])),
                interrupting=CURRENT.of(float(row["interrupting [A]"])),
                largest=CURRENT.of(float(row["largest [A]"])),
                note=f"{row['note']} Confidence about {row['confidence [1]']}.",
                source=held.source,
                basis=Basis.ASSUMED,
            )
            for row in rows
        ),
        sizes=tuple(sorted(sizes.numbers("rating [A]"))),
        sizes_source=sizes.source,
        gg_sizes=by_iec,
        gpv_sizes=tuple(sorted(table("gpv_sizes").numbers("rating [A]"))),
        breaker_sizes=breakers,
        gates=_gates(),
        gates_source=table(_GATES).source,
    )


def _gates() -> tuple[FuseGate, ...]:
    """Return between what every gG link of a size melts, smallest first."""
    held = table(_GATES)
    columns = zip(*(held.numbers(heading) for heading in _GATE_COLUMNS.values()), strict=True)
    return tuple(FuseGate(**dict(zip(_GATE_COLUMNS, row, strict=True))) for row in columns)
