"""Prospective fault current: a source shorted through what lies on the way."""

from __future__ import annotations


def fault_current(emf: float, source_ohms: float, path_ohms: float, strings: int = 1) -> float:
    """Return the prospective fault current of like strings in parallel [A].

    Parameters
    ----------
    emf : float
        Open-circuit voltage of a string [V].
    source_ohms : float
        Resistance of one string, module links and lead included [Ω], above 0.
    path_ohms : float
        Resistance of the common path to the fault and back [Ω].
    strings : int
        Strings that feed the fault.

    Notes
    -----
    Ohm's law; inductance only delays the current, it does not lower where it ends.

    Examples
    --------
    >>> round(fault_current(240.0, 0.055, 0.0))
    4364
    """
    return emf / (source_ohms / strings + path_ohms)
