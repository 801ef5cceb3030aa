r"""How strings in parallel share a current through leads that are not alike.

Each string is a source of one voltage behind its own resistance and that of its lead, so a string
carries in proportion to its conductance. With one short lead and all others long, the string on
the short one carries

.. math:: k = \frac{N}{1 + (N - 1) (R + r_s) / (R + r_l)}

times an even share. Source: Ohm's law.
"""

from __future__ import annotations


def short_lead_factor(strings: int, string: float, short: float, long: float) -> float:
    """Return how many times an even share the string on the shortest lead carries.

    Parameters
    ----------
    strings : int
        Strings in parallel.
    string : float
        Resistance of each string without its lead [Ω].
    short, long : float
        Resistance of the shortest lead and of all the others [Ω].

    Returns
    -------
    float
        1 where the leads are alike; never more than the number of strings.
    """
    return strings / (1.0 + (strings - 1) * (string + short) / (string + long))
