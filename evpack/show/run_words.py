"""Words about runs that text and HTML share."""

from __future__ import annotations

from evpack.base.wording import say

MODEL = (
    "Each string is seen as one body: a voltage that follows its state of charge, a resistance, "
    "and a slower part. Cells within a module are not told apart."
)
_NONE = 1e-3  # what an open string carries, at most [A]
NOT_RUN = "Nothing could be run; what is missing stands below."


def span_words(amps: tuple[float, ...]) -> str:
    """Return the least and the greatest current of the strings that carry, in words."""
    sizes = sorted(abs(one) for one in amps if abs(one) > _NONE) or [0.0]
    least, most = say(sizes[0], "A"), say(sizes[-1], "A")
    return most if least == most else f"{least} to {most}"
