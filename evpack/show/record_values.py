"""Values as plain data: numbers and quantities for JSON."""

from __future__ import annotations

import math
from typing import Any

from evpack.base.worked import Worked


def number_record(value: float | None) -> float | None:
    """Return a number without the noise of binary fractions; null if it is none."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.10g}")


def quantity_record(value: float | None, unit: str) -> dict[str, Any] | None:
    """Return a quantity; null if it is not known at all."""
    return None if value is None else {"value": number_record(value), "unit": unit}


def worked_record(worked: Worked | None) -> dict[str, Any] | None:
    """Return the quantity of an explained number."""
    return None if worked is None else quantity_record(float(worked.value), worked.unit)
