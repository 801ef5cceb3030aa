"""The finished pack: what its log shows, held against what the design predicted."""

from __future__ import annotations

from evpack.describe.checked import need
from evpack.match.after import compare
from evpack.outcome.design import Design
from evpack.outcome.matching import Afterwards
from evpack.outcome.pack_log import PackLog


def compare_log(design: Design, log: PackLog) -> Afterwards:
    """Hold the log of a finished pack against its design.

    Parameters
    ----------
    design : Design
        What was predicted: resistance over 10 s with links and leads up to the bar, where a
        pack's meter sits; capacity; the share of the busiest string.
    log : PackLog
        As `read_pack_log` returns it.

    Returns
    -------
    Afterwards
        What the log shows, with findings where it departs; never raises for a poor pack.
    """
    need("compare_log", design, Design)
    need("compare_log", log, PackLog)
    build, shared = design.build, design.sharing
    pack, lead, link = build.pack, build.cabling.module_lead, build.cabling.link
    ohms = None
    if pack.resistance is not None:
        ohms = float(pack.resistance.m)
        ohms += 0.0 if lead is None else float(lead.resistance.m) / pack.strings
        links = 0.0 if link is None else float(link.one_way.m) * (pack.modules_in_series - 1)
        ohms += links / pack.strings
    return compare(
        log,
        pack.module.chemistry,
        pack.cells_in_series,
        resistance=ohms,
        capacity=float(pack.capacity.m),
        share=None if shared is None else shared.worst.value / shared.even.value,
    )
