"""What the usable energy comes to, in the sentences that page and plain text share."""

from __future__ import annotations

from evpack.outcome.design import UsableWindow
from evpack.show.words import per_cent, shown, worked_words

# What the energy out of an inverter rests on.
OUT_OF_INVERTER = (
    "AC is what comes out of the inverter: its efficiency at full output is taken for every load, "
    "and its idle draw counts over all the hours."
)
_ASSUMED = (
    "The open-circuit curve is only assumed, and cells of one name may have another. A bench "
    "record of a module of your own narrows it down."
)


def energy_words(usable: UsableWindow) -> tuple[str, ...]:
    """Return what a person gets, what float leaves of it, and what it is before the inverter."""
    told = usable.told
    said = [_out_of_it(told)]
    if told.from_float_ac is not None:
        said.append(
            f"{_capital(worked_words(told.from_float_ac))} AC of that after hours at float, "
            f"{per_cent(told.soc_float)} charged: {told.float_by} floats."
        )
    said.append(
        f"Before the inverter, DC: {worked_words(told.reachable)} of {worked_words(told.total)} "
        f"({worked_words(told.share)}), from {per_cent(told.soc_top)} charged down to "
        f"{per_cent(told.soc_bottom)} under {shown(told.load, 'W')}; "
        f"what ends it: {told.bottom_by}."
    )
    if told.kindred is not None:
        said.append(_ASSUMED)
    return tuple(said)


def _out_of_it(told: UsableWindow) -> str:
    """Return the energy of every day out of the inverter, else all that is reachable."""
    at = f"AC at {shown(told.load_ac, 'W')}"
    if told.everyday_ac is None or told.reserve_ac is None:
        return f"{_capital(worked_words(told.reachable_ac))} {at} out of the inverter."
    return (
        f"{_capital(worked_words(told.everyday_ac))} {at} every day, above the changeover at "
        f"{per_cent(told.soc_changeover)}; {worked_words(told.reserve_ac)} kept for outages."
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
