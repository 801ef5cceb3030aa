"""The builder's choices and the guards of the trade, each with its default.

Every default is common practice without a source unless said otherwise; the pages show a default
that nobody touched as assumed.
"""

from __future__ import annotations

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_ASSUMED, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import told
from evpack.base.units import Quantity, share, volts
from evpack.base.wording import say
from evpack.describe.checked import checked
from evpack.describe.module import Module


def _guard(
    default: str, most: float, means: str, least: float = 0.0, *, safer: str = ""
) -> Quantity:
    """Return a field that is a share; `safer` is "up" or "down" where one way loosens a guard."""
    field: Quantity = attrs.field(
        converter=share,
        default=default,
        metadata={**told(means), "bounds": (least, most), "safer": safer, "usual": default},
    )
    return field


@attrs.frozen(kw_only=True, field_transformer=checked)
class Policy:
    """Targets and guards.

    `charge_target` is for the highest cell [V]; None takes the chemistry's stationary target.
    All others are shares: ``"20 %"``.
    """

    charge_target: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("charge target, highest cell", unsaid="the chemistry's"),
    )
    reserve: Quantity = _guard("20 %", 0.95, "state of charge kept for outages")
    return_rise: Quantity = _guard(
        "15 %", 0.9, "state of charge to regain before returning to battery"
    )
    charger_accuracy: Quantity = _guard(
        "1 %", 0.05, "charger voltage error, where not stated", safer="up"
    )
    meter_accuracy: Quantity = _guard(
        "1 %", 0.05, "inverter voltmeter error, where not stated", safer="up"
    )
    tail_current: Quantity = _guard(
        "5 %", 0.2, "absorption end current, of capacity an hour", 0.01, safer="up"
    )
    charge_rate: Quantity = _guard(
        "30 %", 1.0, "charge current, of capacity an hour", 0.01, safer="down"
    )
    discharge_rate_warn: Quantity = _guard(
        "100 %",
        10.0,
        "discharge current that asks for a word, of capacity an hour",
        0.01,
        safer="down",
    )
    long_resistance: Quantity = _guard(
        "200 %", 5.0, "resistance over hours against that over 10 s", 1.0, safer="up"
    )
    sharing_imbalance: Quantity = _guard(
        "120 %", 3.0, "worst string current against an even share", 1.0, safer="up"
    )
    ripple: Quantity = _guard(
        "110 %", 1.3, "RMS of the inverter's DC current against its mean", 1.0, safer="up"
    )
    continuous_factor: Quantity = _guard(
        "125 %", 2.0, "fuse against continuous current", 1.0, safer="up"
    )
    fuse_ambient: Quantity = _guard(
        "85 %", 1.0, "what a warm enclosure leaves of a fuse", 0.5, safer="down"
    )
    ohmic_part: Quantity = _guard(
        "50 %", 1.0, "lowest credible resistance against that over 10 s", 0.1, safer="down"
    )
    weak_part: Quantity = _guard(
        "300 %",
        10.0,
        "highest credible resistance (aged, cold, empty) against that over 10 s",
        1.0,
        safer="up",
    )
    clearing: Quantity = _guard(
        "500 %",
        50.0,
        "least fault current against fuse rating for a quick clearing",
        1.0,
        safer="up",
    )
    cable_drop: Quantity = _guard(
        "2 %", 0.1, "voltage lost in a cable of the battery side", 0.001, safer="down"
    )
    surge_drop: Quantity = _guard(
        "5 %", 0.2, "voltage lost in a cable while the inverters surge", 0.001, safer="down"
    )
    array_drop: Quantity = _guard(
        "3 %", 0.1, "voltage lost in the cable of a solar array", 0.001, safer="down"
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_ASSUMED)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse guards that are none."""
        for field in attrs.fields(Policy):
            if "bounds" in field.metadata:
                least, most = field.metadata["bounds"]
                value = getattr(self, field.name).m
                if not least <= value <= most:
                    raise DescriptionError(
                        f"policy: {field.name} ({field.metadata['label']}) must lie between "
                        f"{100 * least:g} % and {100 * most:g} %, got {100 * value:.4g} %"
                    )


def check_target(policy: Policy, module: Module) -> None:
    """Refuse a charge target that lies outside what a cell of the module may ever stand at.

    Raises
    ------
    DescriptionError
        With the limits of the cell.
    """
    target = policy.charge_target
    if target is not None and not module.least.m <= target.m <= module.highest.m:
        raise DescriptionError(
            f"a charge target must lie within the limits of one cell, "
            f"{say(float(module.least.m), 'V')} to {say(float(module.highest.m), 'V')}, got "
            f"{say(float(target.m), 'V')}"
        )


def loosened(policy: Policy) -> tuple[str, ...]:
    """Return the guards that are set looser than is usual, by field name."""
    found = []
    for field in attrs.fields(Policy):
        safer = field.metadata.get("safer")
        if not safer:
            continue
        value, usual = getattr(policy, field.name).m, share(field.metadata["usual"]).m
        if value < usual if safer == "up" else value > usual:
            found.append(field.name)
    return tuple(found)


def means(field: str) -> str:
    """Return in words what a field of the policy is."""
    found = getattr(attrs.fields(Policy), field).metadata.get("label") or field
    return str(found)
