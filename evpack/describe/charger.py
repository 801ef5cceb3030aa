"""Chargers, and the lead-acid profiles that people leave on them."""

from __future__ import annotations

from typing import Literal

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_ASSUMED, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NotFitted
from evpack.base.told import told
from evpack.base.units import Quantity, amps, celsius, share, volts, volts_per_kelvin, watts
from evpack.base.wording import say
from evpack.describe.checked import above_nothing, checked, exact, whole
from evpack.describe.ranges import CurrentRange, VoltageRange, current_range, voltage_range

# How a charger that is there charges nothing: by no supply, or by its menu or switch alone.
NOT_WIRED, TURNED_OFF = "not wired", "turned off"
SOURCES = ("solar", "mains", "generator")
# What lead-acid profiles usually add in the cold, for each lead cell [V/K], and what a lead cell is
# charged to [V]. Common practice, no source.
LEAD_COMPENSATION, LEAD_CELL = 0.005, 2.4
Source = Literal["solar", "mains", "generator"]


@attrs.frozen(kw_only=True, field_transformer=checked)
class LeadAcidProfile:
    """A charging profile made for lead-acid batteries, for the whole battery.

    `compensation` is what the device adds for every kelvin below `reference`.
    """

    name: str
    absorption: Quantity = attrs.field(converter=volts, metadata=told("absorption"))
    float_voltage: Quantity = attrs.field(converter=volts, metadata=told("float"))
    equalise: Quantity = attrs.field(converter=volts, metadata=told("equalise"))
    compensation: Quantity = attrs.field(
        converter=volts_per_kelvin, metadata=told("added for every kelvin colder")
    )
    reference: Quantity = attrs.field(converter=celsius, metadata=told("colder than"))
    low_cut_off: Quantity = attrs.field(converter=volts, metadata=told("low cut-off"))
    basis: Bases = attrs.field(converter=bases, default=ALL_ASSUMED)

    __repr__ = brief

    def compensated(
        self, temperature: float, *, equalising: bool = False, least: float = 0.0
    ) -> float:
        """Return the absorption or equalising voltage that it rises to at a temperature [V].

        Parameters
        ----------
        temperature : float
            What the charger's sensor feels [°C].
        least : float
            The least compensation to reckon with [V/K], whatever the profile says.
        """
        colder = max(0.0, float(self.reference.m) - temperature)
        warm = self.equalise if equalising else self.absorption
        return float(warm.m) + max(abs(float(self.compensation.m)), least) * colder


@attrs.frozen(kw_only=True, field_transformer=checked)
class Charger:
    """Something that charges the pack.

    Parameters
    ----------
    source : {"solar", "mains", "generator"}
    charge_voltage : VoltageRange, NOT_FITTED or None
        What can be entered as charge (absorption) voltage; NOT_FITTED is a fixed profile.
    accuracy : quantity or None
        Of its voltage, as a share; None takes the policy's assumed one.
    current : quantity or None
        The most it gives [A], each unit.
    current_setting : CurrentRange, NOT_FITTED or None
        What can be entered as its current limit.
    float_can_be_off, compensation_can_be_off, equalise_can_be_off : bool or None
        Whether each can be turned off; None is unknown.
    float_setting : VoltageRange, NOT_FITTED or None
        What can be entered as float voltage.
    kept_off : {"", "not wired", "turned off"}
        Where it is there and charges nothing: its supply is not joined, or it is turned off for
        good and could be turned on again. Empty is in use.
    left_on : LeadAcidProfile or None
        A lead-acid profile that is selected and will stay on.
    power : quantity or None
        Rated power of what feeds it (a solar array's rating), for the energy picture.
    pv_highest : quantity or None
        The highest open-circuit voltage that its solar input stands [V].
    pv_above_battery : quantity or None
        How far a solar array must lie above the battery for it to start [V]; None takes 5 V.
    pv_inputs : int or None
        Solar inputs that are apart from each other, each with a tracker of its own.
    pv_most_current, pv_most_power : quantity or None
        The most short-circuit current [A] and rated power [W] that its solar input allows.
    """

    name: str
    source: str = attrs.field(metadata=told("fed by", known=False))
    count: int = attrs.field(
        validator=whole(1, 1000), default=1, metadata=told("units", known=False)
    )
    charge_voltage: VoltageRange | NotFitted | None = attrs.field(
        converter=voltage_range,
        default=None,
        metadata=told("charge voltage can be set", unfitted="no"),
    )
    accuracy: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("error of its voltage")
    )
    current: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("most current, each")
    )
    current_setting: CurrentRange | NotFitted | None = attrs.field(
        converter=current_range,
        default=None,
        metadata=told("current limit can be set", unfitted="no"),
    )
    float_can_be_off: bool | None = attrs.field(
        default=None, metadata=told("float can be turned off")
    )
    float_setting: VoltageRange | NotFitted | None = attrs.field(
        converter=voltage_range, default=None, metadata=told("float can be set", unfitted="no")
    )
    compensation_can_be_off: bool | None = attrs.field(
        default=None, metadata=told("temperature compensation can be turned off")
    )
    equalise_can_be_off: bool | None = attrs.field(
        default=None, metadata=told("equalising can be turned off")
    )
    kept_off: str = attrs.field(
        default="", metadata=told("kept off", after="count", omit=True, known=False)
    )
    left_on: LeadAcidProfile | None = attrs.field(
        default=None,
        metadata=told(
            "lead-acid profile left on", unsaid="none", after="pv_most_power", known=False
        ),
    )
    power: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("rated power of what feeds it")
    )
    pv_highest: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("most voltage at its solar input")
    )
    pv_above_battery: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("panels must lie above the battery by"),
    )
    pv_most_current: Quantity | None = attrs.field(
        converter=optional(amps),
        default=None,
        metadata=told("most short-circuit current of panels"),
    )
    pv_inputs: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 100)),
        default=None,
        metadata=told("solar inputs apart from each other"),
    )
    pv_most_power: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("most rated power of panels")
    )
    where: str = attrs.field(
        default="", metadata=told("where its settings are", omit=True, known=False)
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_ASSUMED)

    __repr__ = brief

    @property
    def unstated_compensation(self) -> float:
        """Return what a profile left on must be reckoned to add in the cold though it says 0 [V/K].

        0 where the profile says what it adds, or where the device can turn it off.
        """
        profile = self.left_on
        if profile is None or self.compensation_can_be_off or profile.compensation.m != 0:
            return 0.0
        return LEAD_COMPENSATION * round(float(profile.absorption.m) / LEAD_CELL)

    def __attrs_post_init__(self) -> None:
        """Refuse a source, a way of being kept off and an accuracy that are none."""
        if self.source not in SOURCES:
            raise DescriptionError(
                f"{self.name}: source '{self.source}' is not known{nearest(self.source, SOURCES)}"
            )
        if self.kept_off not in {"", NOT_WIRED, TURNED_OFF}:
            raise DescriptionError(
                f"{self.name}: kept_off '{self.kept_off}' is not known"
                f"{nearest(self.kept_off, (NOT_WIRED, TURNED_OFF))}"
            )
        above_nothing(self, "power", "pv_highest", "pv_most_current", "pv_most_power")
        if self.accuracy is not None and not 0 < self.accuracy.m < 0.2:  # noqa: PLR2004
            raise DescriptionError(
                f"{self.name}: accuracy must lie between 0 and 20 %, got "
                f"{say(self.accuracy.m, '')}{exact(self.accuracy)}"
            )
