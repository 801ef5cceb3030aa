"""Do a charger's solar inputs take what is joined at them?"""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import CURRENT, POWER, VOLTAGE
from evpack.base.wording import say
from evpack.check.solar_numbers import rated_open, rated_power, short
from evpack.describe.array import Array
from evpack.describe.charger import Charger

SHORT = Rule(
    key="solar-input.short-circuit",
    says="An array must not be able to give more current than its charger's input allows.",
    source="nec-690.8",
    stands=Standing.BOUND,
    clause="NEC 690.8(A); print of the charger: input current",
    kind=CURRENT,
)
SEPARATE = Rule(
    key="solar-input.separate",
    says="Plugs side by side are often one input: what is plugged in then adds up.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the charger: number of its inputs",
)
POWER_ALLOWED = Rule(
    key="solar-input.power",
    says="An array of more power than its charger allows is clipped, where its maker allows it.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the charger: input power",
    kind=POWER,
)
POWER_AGREES = Rule(
    key="solar-input.power-agrees",
    says="Two statements of the power that feeds a charger should agree.",
    source="arithmetic",
    stands=Standing.REMARK,
)
STRINGS_MATCH = Rule(
    key="solar-input.strings-match",
    says="Strings joined at one input should be of one voltage: the longer feeds the shorter.",
    source="common-practice",
    stands=Standing.QUESTION,
    kind=VOLTAGE,
)

_STRONG_SUN = 1.25  # what a panel's short-circuit current is counted with by NEC 690.8(A)
# Common practice, no source.
_ALIKE = 0.05  # two strings joined may differ by this and lose harvest only
_NOISE = 1e-9  # what a sum of volts may be off by
_AGREE = 0.01  # two statements of a power may differ by this


def inputs(charger: Charger, arrays: list[Array]) -> list[Finding]:
    """Return what was found of each solar input of a charger and of all of them together."""
    if not arrays:
        return []
    names = list(dict.fromkeys(array.socket for array in arrays))
    found = [] if len(names) == 1 else [_separate(charger, names)]
    for name in names:
        joined = [array for array in arrays if array.socket == name]
        found.append(_short(charger, joined))
        found += _match(charger, joined)
    return [*found, *_power(charger, arrays)]


def _separate(charger: Charger, names: list[str]) -> Finding:
    """Judge whether the charger has as many inputs, each on its own, as arrays are put on."""
    about, told = charger.name, ", ".join(repr(name) for name in names if name)
    if "" in names:
        return unknown(
            SEPARATE,
            about=about,
            detail=f"Some of its arrays are put on its input {told}, and of others nobody said on "
            "which they are.",
            remedy="Say on_input of every array of it under [[pv]], or of none where it has one "
            "input.",
        )
    if charger.pv_inputs is None:
        return unknown(
            SEPARATE,
            about=about,
            detail=f"Arrays are put on its inputs {told}, and nobody said how many inputs it has "
            "that are apart from each other.",
            remedy="Read in its manual how many trackers it has, and say pv_inputs of it under "
            "[[charger]].",
        )
    if charger.pv_inputs < len(names):
        return state(
            SEPARATE,
            Severity.STOP,
            about=about,
            detail=f"It has {charger.pv_inputs} of its own, and arrays are put on {told}.",
            remedy="Give arrays that are joined the same on_input under [[pv]].",
        )
    return only_if_read(
        state(
            SEPARATE,
            Severity.OK,
            about=about,
            detail=f"It has {charger.pv_inputs} inputs, each on its own.",
            assumed=("number of its inputs",)
            if charger.basis.of("pv_inputs") is Basis.ASSUMED
            else (),
        )
    )


def _short(charger: Charger, joined: list[Array]) -> Finding:
    every = [short(array) for array in joined]
    known = [worked for worked in every if worked is not None]
    about = _names(joined)
    total = sum(w.value for w in known) if len(known) == len(every) else None
    assumed = [name for worked in known for name in worked.assumed]
    if charger.basis.of("pv_most_current") is Basis.ASSUMED:
        assumed.append("most current of the charger's solar input")
    return only_if_read(
        at_most(
            SHORT,
            None if total is None else CURRENT.of(total / _STRONG_SUN),
            charger.pv_most_current,
            about=about,
            otherwise=Severity.STOP,
            value_name="the short-circuit current of the panels",
            guarded=None if total is None else CURRENT.of(total),
            guarded_for="strong sun",
            limit_name=f"the most that {charger.name} allows",
            remedy="Fewer strings in parallel, or a bigger charger.",
            ask=f"Say short_circuit of {about} under [[pv]], and pv_most_current of "
            f"{charger.name}: a limit of power says nothing of what flows into a short.",
            assumed=tuple(dict.fromkeys(assumed)),
        )
    )


def _match(charger: Charger, joined: list[Array]) -> list[Finding]:
    """Compare the strings of arrays that are joined at one input, by their voltage at 25 °C."""
    if len(joined) == 1:
        return []
    about = _names(joined)
    volts = [w.value for array in joined if (w := rated_open(array)) is not None]
    if len(volts) < len(joined):
        return [
            unknown(
                STRINGS_MATCH,
                about=about,
                detail="Cannot tell whether their strings are of one voltage.",
                remedy="Say open_circuit of each under [[pv]], or on_input where the charger has "
                "an input for each.",
            )
        ]
    apart, most = max(volts) - min(volts), max(volts)
    remedy = (
        "Strings of like panels in like number; or, where the charger has several solar inputs, "
        "one for each, and say so with on_input under [[pv]]."
    )
    found = at_most(
        STRINGS_MATCH,
        VOLTAGE.of(apart),
        VOLTAGE.of(_ALIKE * most),
        about=about,
        otherwise=Severity.CAUTION,
        value_name=f"the difference of their strings at one input of {charger.name}",
        limit_name="what costs harvest only",
        remedy=remedy,
    )
    if found.severity is Severity.OK and apart > _NOISE * most:
        found = attrs.evolve(found, severity=Severity.CAUTION, remedy=remedy)
    return [found]


def _power(charger: Charger, arrays: list[Array]) -> list[Finding]:
    every = [rated_power(array) for array in arrays]
    known = [worked for worked in every if worked is not None]
    total = sum(w.value for w in known) if len(known) == len(every) else None
    about = _names(arrays)
    if charger.pv_most_power is None:
        allowed = state(
            POWER_ALLOWED,
            Severity.NOTE,
            about=about,
            detail=f"{charger.name} names no most power of its panels, so it is not judged.",
        )
    else:
        allowed = at_most(
            POWER_ALLOWED,
            None if total is None else POWER.of(total),
            charger.pv_most_power,
            rests=known,
            about=about,
            otherwise=Severity.CAUTION,
            value_name="the rated power of the panels",
            limit_name=f"the most that {charger.name} allows",
            remedy="Read in the charger's manual whether more may be connected and is only "
            "clipped; if not, use fewer panels.",
            ask=f"Say power of {about} under [[pv]].",
        )
    if total is None or charger.power is None:
        return [allowed]
    of_charger = float(charger.power.m)
    agree = abs(total - of_charger) <= _AGREE * max(total, of_charger)
    return [
        allowed,
        state(
            POWER_AGREES,
            Severity.OK if agree else Severity.NOTE,
            about=about,
            detail=f"The panels add up to {say(total, 'W')}, and power of {charger.name} says "
            f"{say(of_charger, 'W')}.",
            remedy="" if agree else "One of the two is out of date; the panels are used here.",
        ),
    ]


def _names(arrays: list[Array]) -> str:
    return " and ".join(array.name for array in arrays)


def only_if_read(found: Finding) -> Finding:
    """Return a pass as a limit where it rests on numbers that nobody read off a data sheet."""
    if found.severity is not Severity.OK or not found.assumed:
        return found
    return attrs.evolve(
        found,
        severity=Severity.CAUTION,
        remedy=f"Read off the data sheet: {'; '.join(found.assumed)}. Then say basis = "
        '"datasheet".',
    )
