"""How cells identified, cycles counted, scatters and models of ageing are told as facts."""

from __future__ import annotations

import numpy as np

from evpack.base.wording import say
from evpack.describe.ageing_model import AgeingModel
from evpack.describe.scatter import Scatter
from evpack.outcome.ageing import Cycles
from evpack.outcome.identified import IdentifiedCell
from evpack.show.fact import Fact, Facts, facts, many, rows
from evpack.show.gather import source_words
from evpack.show.words import per_cent, told


@facts.register
def _identified(cell: IdentifiedCell) -> Facts:
    ohms = cell.resistance.ohms
    return Facts(
        cell.name,
        many(
            Fact("capacity", told(cell.capacity)),
            Fact(
                "series resistance",
                f"{say(float(ohms.min()), 'Ω')} to {say(float(ohms.max()), 'Ω')}",
                note=f"at {ohms.size} states of charge, from "
                f"{per_cent(float(cell.resistance.soc[0]))} to "
                f"{per_cent(float(cell.resistance.soc[-1]))}",
            ),
            (
                Fact(
                    f"RC branch {k}",
                    f"{told(branch.resistance)}, settles in {told(branch.time_constant)}",
                    note=f"a capacitance of {told(branch.capacitance)}",
                )
                for k, branch in enumerate(cell.branches, start=1)
            ),
            Fact(
                "voltage at rest",
                ", ".join(
                    f"{say(float(np.interp(soc, cell.curve.soc, cell.curve.volts)), 'V')} at "
                    f"{per_cent(soc)}"
                    for soc in (0.1, 0.3, 0.5, 0.7, 0.9)
                ),
            ),
            Fact(
                "record played again, rms",
                told(cell.error),
                note=f"10 to 95 % charged; {told(cell.error_over_time)} over the time there, "
                f"{told(cell.error_most)} at most, {told(cell.error_whole)} over the whole",
            ),
            Fact("source", source_words(cell.source)),
        ),
        " ".join(cell.notes),
    )


@facts.register
def _cycles(cycles: Cycles) -> Facts:
    edges = (0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
    counted = cycles.by_depth(edges)
    return Facts(
        "Cycles",
        many(
            Fact("history", say(cycles.hours * 3600, "s")),
            Fact("equivalent full cycles", f"{cycles.full_cycles:.1f}"),
            Fact("mean depth", per_cent(cycles.mean_depth), note="by the charge moved"),
            (
                Fact(f"{per_cent(low)} to {per_cent(high)} deep", f"{number:g}")
                for low, high, number in zip(edges, edges[1:], counted, strict=False)
            ),
        ),
        "Counted by rainflow; what is left over at the ends counts as half cycles.",
    )


@facts.register
def _scatter(scatter: Scatter) -> Facts:
    return Facts(
        "Scatter",
        rows(
            scatter,
            ("capacity, module to module", "capacity"),
            ("resistance, module to module", "resistance"),
            ("accuracy of chargers and meters", "accuracy"),
            ("coldest and warmest of the cells", "temperature"),
        ),
        "Standard deviations; what is not known is not drawn.",
    )


@facts.register
def _model(model: AgeingModel) -> Facts:
    return Facts(
        model.name,
        many(
            Fact("fits", ", ".join(model.chemistries)),
            Fact("source", source_words(model.source)),
            (
                Fact(one.symbol, f"{one.value:g} {one.unit if one.unit != '1' else ''}".strip())
                for one in model.constants
            ),
        ),
        model.fits,
    )
