"""What a lead-acid profile left on a charger would do, in volts per cell of this pack."""

from __future__ import annotations

import attrs

from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.outcome.groundwork import Groundwork

LEFT_ON = Rule(
    key="profile.left-on",
    says="A lead-acid profile left on must not take a cell above its highest voltage.",
    source="lead-acid-manuals",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
    kind=VOLTAGE,
)
LEFT_ON_COLD = Rule(
    key="profile.left-on-cold",
    says="A lead-acid profile raises its voltage in the cold; no cell may pass its highest then.",
    source="lead-acid-manuals",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
    kind=VOLTAGE,
)
LEFT_ON_FLOAT = Rule(
    key="profile.left-on-float",
    says="The float of a lead-acid profile holds lithium cells at a voltage that ages them.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
LEFT_ON_LOW = Rule(
    key="profile.left-on-low",
    says="The low cut-off of a lead-acid profile may let lithium cells fall too low.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
WARNED = Rule(
    key="profile.warned",
    says="Know what the profiles that devices come with would do to this pack.",
    source="lead-acid-manuals",
    stands=Standing.REMARK,
)


def profiles(ground: Groundwork) -> tuple[Finding, ...]:
    """Return a judgement of every profile that is on, and a warning of those that might be."""
    found: list[Finding] = []
    for charger in ground.build.all_chargers:
        if charger.left_on is not None:
            found += _left_on(ground, charger, charger.left_on)
    found += [_warning(ground, profile) for profile in ground.build.profiles]
    return tuple(found)


def _error(ground: Groundwork, charger: Charger) -> float:
    stated = charger.accuracy
    return float((ground.build.policy.charger_accuracy if stated is None else stated).m)


def _left_on(ground: Groundwork, charger: Charger, profile: LeadAcidProfile) -> list[Finding]:
    n = ground.source.cells
    about = f"{charger.name}, profile '{profile.name}'"
    remedy = (
        "Use a charger whose voltages can be set."
        if charger.charge_voltage is NOT_FITTED
        else "Select the profile whose numbers can be entered, take left_on out of the build "
        "sheet, enter what the settings sheet then says, and read it back before the charger is "
        "connected."
    )

    def cell(volts: float) -> Quantity:
        return VOLTAGE.of(volts / n)

    # The mean cell must leave room for the highest cell and for the charger's error, and the
    # charger must stop before the cell monitoring has to.
    warnings, cold = ground.cell_thresholds(), ground.coldest_or_freezing()
    unstated = charger.unstated_compensation
    highest = VOLTAGE.of(
        (warnings["warn_high"] - ground.spread().value) / (1 + _error(ground, charger))
    )
    found = [
        at_most(
            rule,
            cell(volts),
            highest,
            about=f"{about}, {what}",
            otherwise=Severity.STOP,
            value_name=f"the mean cell at its {name}",
            limit_name="the high warning of the cell monitoring, less the cell spread and the "
            "charger's error",
            remedy=remedy,
        )
        for rule, volts, what, name in (
            (LEFT_ON, float(profile.absorption.m), "absorption", "absorption voltage"),
            (LEFT_ON, float(profile.equalise.m), "equalise", "equalising voltage"),
            (
                LEFT_ON_COLD,
                profile.compensated(cold, least=unstated),
                f"at {say(cold, '°C')}",
                "absorption voltage, raised for the cold",
            ),
            (
                LEFT_ON_COLD,
                profile.compensated(cold, equalising=True, least=unstated),
                f"equalise at {say(cold, '°C')}",
                "equalising voltage, raised for the cold",
            ),
        )
    ]
    if unstated:
        found = [_only_reckoned(f, unstated) if f.rule is LEFT_ON_COLD else f for f in found]
    if found[0].severity is Severity.OK:
        found[0] = at_most(
            LEFT_ON,
            cell(float(profile.absorption.m)),
            VOLTAGE.of(ground.charge_target().value),
            about=f"{about}, absorption",
            otherwise=Severity.CAUTION,
            value_name="the mean cell at its absorption voltage",
            limit_name="the charge target of a cell",
            remedy=remedy,
        )
    return [
        *found,
        at_most(
            LEFT_ON_FLOAT,
            cell(float(profile.float_voltage.m)),
            ground.targets.float_most,
            about=f"{about}, float",
            otherwise=Severity.CAUTION,
            value_name="the mean cell at its float voltage",
            limit_name="the highest float that does little harm",
            remedy=remedy,
        ),
        at_most(
            LEFT_ON_LOW,
            VOLTAGE.of(warnings["warn_low"]),
            cell(float(profile.low_cut_off.m)),
            about=f"{about}, low cut-off",
            otherwise=Severity.CAUTION,
            value_name="the low warning of a cell",
            limit_name="the mean cell at its low cut-off",
            remedy=remedy,
        ),
    ]


def _only_reckoned(found: Finding, compensation: float) -> Finding:
    """Return a finding that rests on a compensation which nobody stated: it is no pass."""
    return attrs.evolve(
        found,
        severity=max(found.severity, Severity.CAUTION),
        detail=f"{found.detail} The profile says that nothing is added in the cold, but nobody "
        f"said that this charger can turn it off: the usual {say(compensation, 'V/K')} is counted.",
        remedy=found.remedy
        or "Find in its manual what it adds in the cold, and state it in the profile.",
        assumed=("temperature compensation",),
    )


def _warning(ground: Groundwork, profile: LeadAcidProfile) -> Finding:
    n, cold = ground.source.cells, ground.coldest_or_freezing()
    highest = float(ground.build.pack.module.highest.m)
    parts = [
        ("absorption", float(profile.absorption.m)),
        ("float", float(profile.float_voltage.m)),
        ("equalise", float(profile.equalise.m)),
        (f"absorption at {say(cold, '°C')}", profile.compensated(cold)),
        (f"equalise at {say(cold, '°C')}", profile.compensated(cold, equalising=True)),
    ]
    told = ", ".join(
        f"{name} {say(volts, 'V')} = {say(volts / n, 'V/cell')}"
        + (" (!)" if volts / n > highest else "")
        for name, volts in parts
    )
    danger = (
        f" Marked (!): above the {say(highest, 'V')} that a cell stands, a danger of fire."
        if any(volts / n > highest for _, volts in parts)
        else ""
    )
    return state(
        WARNED,
        Severity.NOTE,
        about=f"profile '{profile.name}', if it were left on",
        detail=f"{told}; low cut-off {say(float(profile.low_cut_off.m), 'V')} = "
        f"{say(float(profile.low_cut_off.m) / n, 'V/cell')}.{danger}",
    )
