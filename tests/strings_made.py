"""Strings for the tests of the network, invented, and plain functions behind compiled ones."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from hypothesis import strategies as st

from evpack.kernels.network import COLDEST, Strings

CELSIUS = np.arange(COLDEST, 61.0)


def plain(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return a compiled function as Python has it."""
    return getattr(function, "py_func", function)


def made(
    ohms: Any,
    *,
    empty: Any = 42.0,
    full: Any = 57.0,
    amp_hours: Any = 60.0,
    lead: float = 1e-12,
    rc: tuple[tuple[float, float], ...] = (),
    bar: Any = 0.0,
    taps: tuple[int, int] = (0, 0),
    heat: float = 1e12,
    to_air: float = 0.0,
    cold: Any = None,
) -> Strings:
    """Return strings with straight open-circuit curves; `rc` are (Ω, s), alike in each string."""
    ohms = np.asarray(ohms, dtype=float)
    n = ohms.size

    def each(value: Any) -> np.ndarray:
        return np.full(n, value) if np.ndim(value) == 0 else np.asarray(value, dtype=float)

    pieces = np.full(n - 1, bar) if np.ndim(bar) == 0 else np.asarray(bar, dtype=float)
    return Strings(
        ocv=np.stack([each(empty), each(full)], axis=1),
        ohms=np.stack([ohms, ohms], axis=1),
        cold=np.ones(CELSIUS.size) if cold is None else cold,
        lead=np.full(n, lead),
        coulombs=3600.0 * each(amp_hours),
        rc_ohms=np.tile([r for r, _ in rc], (n, 1)).reshape(n, len(rc)).astype(float),
        rc_seconds=np.tile([s for _, s in rc], (n, 1)).reshape(n, len(rc)).astype(float),
        heat=np.full(n, heat),
        to_air=np.full(n, to_air),
        plus=pieces.copy(),
        minus=pieces.copy(),
        tap_plus=taps[0],
        tap_minus=taps[1],
    )


@st.composite
def any_strings(draw: Any, least: int = 1, most: int = 8) -> Strings:
    """Return strings of unlike resistance and capacity, on bars, tapped anywhere."""
    n = draw(st.integers(least, most))
    between = st.floats(0.005, 0.05)
    rc = draw(st.lists(st.tuples(st.floats(0.001, 0.05), st.floats(5.0, 3000.0)), max_size=2))
    return made(
        draw(st.lists(between, min_size=n, max_size=n)),
        amp_hours=draw(st.lists(st.floats(20.0, 120.0), min_size=n, max_size=n)),
        lead=draw(st.floats(1e-5, 0.01)),
        rc=tuple(rc),
        bar=draw(st.lists(st.floats(0.0, 2e-4), min_size=n - 1, max_size=n - 1)),
        taps=(draw(st.integers(0, n - 1)), draw(st.integers(0, n - 1))),
        heat=draw(st.floats(5e3, 1e5)),
        to_air=draw(st.floats(0.0, 5.0)),
    )
