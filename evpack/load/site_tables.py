"""What public rules let stand in each kind of place, from the table."""

from __future__ import annotations

import functools

from evpack.base.units import ENERGY, VOLTAGE
from evpack.describe.site_limits import SiteLimit
from evpack.load.tables import table

_KILO = 1000.0  # Wh in a kWh


@functools.cache
def site_limits() -> tuple[SiteLimit, ...]:
    """Return every limit that a kind of place sets, in the order of the table."""
    held = table("site_limits")
    columns = held.columns
    rows = [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]
    found = []
    for row in rows:
        limit = None
        if row["limit [V]"]:
            limit = VOLTAGE.of(float(row["limit [V]"]))
        elif row["limit [kWh]"]:
            limit = ENERGY.of(float(row["limit [kWh]"]) * _KILO)
        plain = {key: row[key] for key in ("rules", "kind", "judges", "clause", "edition")}
        found.append(
            SiteLimit(
                limit=limit,
                bound=row["bound"] == "yes",
                source=row["source"],
                says=row["says"],
                **plain,
            )
        )
    return tuple(found)
