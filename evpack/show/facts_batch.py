"""What a heap and its modules state, as rows of label, value and how it is known."""

from __future__ import annotations

from typing import Any

from evpack.base.wording import say
from evpack.describe.batch import Batch, Measure, Rest, TestedModule
from evpack.outcome.pack_log import PackLog
from evpack.show.fact import Fact, Facts, facts, value_words
from evpack.show.gather import source_words


def _plain(noun: Any, *labelled: tuple[str, str]) -> tuple[Fact, ...]:
    return tuple(Fact(label, value_words(getattr(noun, field))) for label, field in labelled)


@facts.register
def _batch(batch: Batch) -> Facts:
    cells = f"{batch.cells_in_series} in series, {batch.cells_in_parallel} in parallel"
    wanted = "none asked for"
    if batch.modules_in_series is not None and batch.strings is not None:
        wanted = f"{batch.modules_in_series} in series × {batch.strings} strings"
    return Facts(
        batch.title,
        (
            Fact("chemistry", batch.chemistry.name),
            Fact("cells of a module", cells),
            Fact("modules", str(len(batch.modules))),
            Fact("pack that is wanted", wanted),
            *_plain(
                batch,
                ("capacity when new", "new_capacity"),
                ("resistance when new", "new_resistance"),
                ("accuracy of the voltmeter", "voltage_accuracy"),
            ),
        ),
        batch.note,
    )


@facts.register
def _tested(module: TestedModule) -> Facts:
    seen = "nobody looked" if module.seen is None else ", ".join(module.seen) or "nothing"
    return Facts(
        f"Module {module.name}",
        (
            *_plain(
                module,
                ("capacity", "capacity"),
                ("energy", "energy"),
                ("current of the capacity test", "capacity_current"),
                ("resistance", "resistance"),
                ("method", "resistance_method"),
                ("warmed in the test by", "rise"),
                ("lowest that a cell group was ever found at", "lowest_ever"),
                ("cell group that ended the discharge", "ended_by"),
                ("weakest cell group below the mean, towards empty", "imbalance_empty"),
            ),
            Fact("seen on it", seen),
            Fact("readings at rest", str(len(module.rests))),
        ),
        module.note,
    )


@facts.register
def _rest(rest: Rest) -> Facts:
    cells = ", ".join(say(value, "V") for value in rest.cells) or "not read"
    return Facts(
        f"At rest on {rest.date}",
        (
            *_plain(rest, ("rested", "rested"), ("voltage", "voltage"), ("full", "full")),
            Fact("cell groups", cells),
        ),
    )


@facts.register
def _measure(measure: Measure) -> Facts:
    return Facts(
        measure.key,
        (
            Fact("accepted to", say(measure.accept, measure.unit)),
            Fact("accepted after a retest to", say(measure.retest, measure.unit)),
            Fact("source", source_words(measure.source)),
        ),
        measure.says,
    )


@facts.register
def _log(log: PackLog) -> Facts:
    time = float(log.seconds[-1] - log.seconds[0])
    return Facts(
        log.name,
        (
            Fact("samples", str(log.seconds.size)),
            Fact("lasts", say(time, "s")),
            Fact("current", log.told or "positive on discharge"),
            Fact("cells logged", "no" if log.highest is None else "highest and lowest"),
            Fact("strings logged", "none" if log.strings is None else str(len(log.strings))),
        ),
    )
