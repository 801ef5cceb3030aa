"""Numbers of a design that a finished pack is held against."""

from __future__ import annotations

from evpack.outcome.design import Design


def bus_resistance(design: Design) -> float | None:
    """Return the 10 s resistance of the pack at its bus bars [Ω]: links and leads included.

    None where nobody knows that of the modules.
    """
    build = design.build
    pack, lead, link = build.pack, build.cabling.module_lead, build.cabling.link
    if pack.resistance is None:
        return None
    ohms = float(pack.resistance.m)
    ohms += 0.0 if lead is None else float(lead.resistance.m) / pack.strings
    links = 0.0 if link is None else float(link.one_way.m) * (pack.modules_in_series - 1)
    return ohms + links / pack.strings
