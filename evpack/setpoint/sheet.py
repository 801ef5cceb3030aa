"""The settings sheet of the whole build, device by device."""

from __future__ import annotations

from evpack.base.basis import Basis, weakest
from evpack.base.finding import Finding
from evpack.base.units import CURRENT
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.ranges import CurrentRange
from evpack.outcome.groundwork import Groundwork, PackFigures
from evpack.outcome.settings import SettingsSheet, Thresholds
from evpack.setpoint.charge import charger_settings, kept_off_settings
from evpack.setpoint.charge_current import least_current
from evpack.setpoint.discharge import inverter_settings
from evpack.setpoint.ladder import ladder, monitoring_settings, shunt_settings


def settings_sheet(ground: Groundwork) -> tuple[SettingsSheet, tuple[Finding, ...]]:
    """Return what to enter on every device, and what was found on the way."""
    build, figures = ground.build, ground.figures
    findings: list[Finding] = []
    charges = [
        charger_settings(ground, charger, charge_current_part(build, charger, figures))
        for charger in build.all_chargers
    ]
    for outcome in charges:
        findings += outcome.findings
    reached = [o.voltage for o in charges if o.voltage is not None]
    most = [o.voltage_most for o in charges if o.voltage_most is not None]
    charge = min(reached, default=None)
    ends = min(
        (
            (o.voltage_least, o.voltage, o.error)
            for o in charges
            if o.voltage is not None and o.voltage_least is not None
        ),
        default=None,
    )
    floated, floated_by = min(
        ((o.floated, o.settings.device) for o in charges if o.floated is not None),
        default=(None, ""),
    )
    surely = None if ends is None else ends[0]
    highest = max(reached, default=None)
    discharges = [
        inverter_settings(ground, inverter, charge, surely, highest) for inverter in build.inverters
    ]
    for discharge in discharges:
        findings += discharge.findings
    pairs = [(o.changeover, o.back) for o in discharges if o.changeover is not None]
    changeover, back = max(pairs, key=lambda pair: pair[0], default=(None, None))
    thresholds = Thresholds(
        charge=charge,
        charge_most=max(most, default=None),
        cut_off=max((o.cut_off for o in discharges if o.cut_off is not None), default=None),
        changeover=changeover,
        back=back,
        floated=floated,
        floated_by=floated_by,
    )
    set_most = [
        outcome.voltage_most
        for charger, outcome in zip(build.all_chargers, charges, strict=True)
        if charger.left_on is None and outcome.voltage_most is not None
    ]
    findings += ladder(ground, thresholds, max(set_most, default=None))
    shunt = shunt_settings(ground, thresholds, None if ends is None else ends[1:])
    devices = (
        *(o.settings for o in discharges),
        *(o.settings for o in charges),
        *map(kept_off_settings, build.kept_off),
        monitoring_settings(ground),
        *((shunt,) if shunt else ()),
    )
    return SettingsSheet(devices=devices, thresholds=thresholds), tuple(findings)


def charge_current_allowed(build: Build, figures: PackFigures) -> Worked | None:
    """Return the charge current of the whole pack, warm [A]; None where a limit is unknown.

    The least of what the modules take and of the rate that salvaged cells are charged at.
    """
    limit, policy = figures.charge_limit, build.policy
    if limit is None:
        return None
    rate = known("k_rate", "charge current", policy.charge_rate, policy.basis.of("charge_rate"))
    capacity = figures.capacity
    return Worked(
        name="charge current of the pack",
        kind=CURRENT,
        formula="min({I_modules}, {Q} · {k_rate} / 1 h)",
        inputs=(
            from_worked("I_modules", limit),
            from_worked("Q", capacity),
            rate,
        ),
        source="common-practice",
    )


def charge_current_part(build: Build, charger: Charger, figures: PackFigures) -> Worked | None:
    """Return one unit's part of the charge current that the pack allows [A].

    Chargers share it in proportion to what each gives. One whose part would lie below the least
    that it can be set to has that least, and the others share what is left. None where one of
    them does not say what it gives.
    """
    allowed = charge_current_allowed(build, figures)
    if allowed is None or charger.current is None:
        return None
    if any(c.current is None for c in build.all_chargers):
        return None
    held = _held_at_least(build, allowed.value)
    own = known("I_own", "current of this charger", charger.current, charger.basis.of("current"))
    if charger.name in held:
        least = Input(
            "I_least",
            "least current that it can be set to",
            held[charger.name],
            "A",
            _least_known(charger),
        )
        return Worked(
            name="part of the charge current",
            kind=CURRENT,
            formula="min({I_own}, {I_least})",
            inputs=(own, least),
            source="common-practice",
        )
    gone = sum(c.count * held.get(c.name, 0.0) for c in build.all_chargers)
    sharing = [c for c in build.all_chargers if c.name not in held]
    total = sum(_gives(c) for c in sharing)
    if total <= 0:
        return None
    what = "current of the chargers that share" if held else "current of all chargers"
    whole = Input("I_all", what, total, "A", weakest(c.basis.of("current") for c in sharing))
    pack = from_worked("I_pack", allowed)
    leasts = weakest(_least_known(c) for c in build.all_chargers if c.name in held)
    rest = Input("I_held", "what chargers at their least take", gone, "A", leasts)
    return Worked(
        name="part of the charge current",
        kind=CURRENT,
        formula="min({I_own}, ({I_pack} − {I_held}) · {I_own} / {I_all})"
        if held
        else "min({I_own}, {I_pack} · {I_own} / {I_all})",
        inputs=(own, pack, *((rest,) if held else ()), whole),
        source="common-practice",
    )


def _least_known(charger: Charger) -> Basis:
    """Return how the least that a charger gives is known: one that cannot be set gives it all."""
    settable = isinstance(charger.current_setting, CurrentRange)
    return charger.basis.of("current_setting" if settable else "current")


def _gives(charger: Charger) -> float:
    return 0.0 if charger.current is None else charger.count * float(charger.current.m)


def _held_at_least(build: Build, allowed: float) -> dict[str, float]:
    """Return the chargers that a share in proportion would stop, each with its least entry [A].

    Empty where all that they ask for is more than the pack takes: then something must go.
    """
    held: dict[str, float] = {}
    while True:
        left = allowed - sum(c.count * held.get(c.name, 0.0) for c in build.all_chargers)
        if left < 0:
            return {}
        sharing = [c for c in build.all_chargers if c.name not in held]
        total = sum(_gives(c) for c in sharing)
        more = {
            c.name: least
            for c in sharing
            if (least := least_current(c)) is not None
            and c.current is not None
            and left * float(c.current.m) < least * total
        }
        if not more:
            return held
        held |= more
