"""Small makers of steps, so that each stage reads as a list."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import attrs

from evpack.base.units import Kind
from evpack.base.worked import Worked
from evpack.outcome.commissioning import CommissioningStep

# Before a tool or a hand goes to a joint of a pack that was joined. Common practice, no source.
ISOLATE = (
    "Loads and sources off, the disconnect open, the string fuses out, an insulated tool, one pole "
    "at a time: the modules stay live."
)
# The same of strings that are dangerous to touch, which come apart in the middle.
ISOLATE_HIGH = (
    "Loads and sources off, the disconnect open, the string fuses out, then the link in the middle "
    "of each string, gloves and face shield on, an insulated tool, one pole at a time: the modules "
    "stay live."
)
# After a threshold that was moved to see it act.
SET_BACK = "Set it back, and read it back."


class Stage:
    """Makes the steps of one stage: `key` is its table in the record, `name` its heading."""

    def __init__(self, key: str, name: str, *, later: bool = False) -> None:
        self._key, self._name, self._later = key, name, later

    def asks(
        self,
        key: str,
        title: str,
        todo: str,
        why: str = "",
        if_not: str = "",
        *,
        device: str = "",
        worked: Worked | None = None,
    ) -> CommissioningStep:
        """Return a question whose good answer is yes; `worked` is a number that it tells."""
        return self._step(
            key, title=title, todo=todo, why=why, if_not=if_not, device=device, worked=worked
        )

    def reads(
        self,
        key: str,
        title: str,
        todo: str,
        why: str = "",
        if_not: str = "",
        *,
        device: str = "",
        kind: Kind,
        low: float | None = None,
        high: float | None = None,
        worked: Worked | None = None,
        entry: str = "",
    ) -> CommissioningStep:
        """Return a value to read and write down."""
        return self._step(
            key,
            title=title,
            todo=todo,
            why=why,
            if_not=if_not,
            device=device,
            kind=kind,
            low=low,
            high=high,
            worked=worked,
            entry=entry,
        )

    def _step(self, key: str, **said: Any) -> CommissioningStep:
        return CommissioningStep(
            key=f"{self._key}.{key}", stage=self._name, later=self._later, **said
        )


def slug(words: str) -> str:
    """Return words as a bare key of a TOML file.

    Examples
    --------
    >>> slug("5 kVA inverter, 48 V class")
    '5_kva_inverter_48_v_class'
    """
    return re.sub(r"[^a-z0-9]+", "_", words.lower()).strip("_") or "thing"


def own_keys(steps: Iterable[CommissioningStep]) -> tuple[CommissioningStep, ...]:
    """Return the steps, each with a key of its own: names of devices may look alike as keys."""
    found: dict[str, CommissioningStep] = {}
    for step in steps:
        key, number = step.key, 1
        while key in found:  # "charger", "charger" and "charger 2" are three
            number += 1
            key = f"{step.key}_{number}"
        found[key] = step if key == step.key else attrs.evolve(step, key=key)
    return tuple(found.values())
