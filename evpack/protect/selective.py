"""Which fuse opens first: the one next to the fault, or others with it."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, state
from evpack.base.units import SHARE
from evpack.base.wording import say
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import MAIN, STRING, Circuit, FuseChoice

SELECTIVE_STRING = Rule(
    key="selective.string",
    says="A fault in one string should open that string's fuse alone: the others then go on.",
    source="fuse-selectivity",
    stands=Standing.REMARK,
    kind=SHARE,
)
SELECTIVE_MAIN = Rule(
    key="selective.main",
    says="A fault behind a main fuse should open the main fuse alone, and no string fuse.",
    source="fuse-selectivity",
    stands=Standing.REMARK,
    kind=SHARE,
)
TWO_STRINGS = Rule(
    key="selective.two-strings",
    says="With two strings a fault in one passes the same current through both fuses: both may "
    "open.",
    source="ohms-law",
    stands=Standing.REMARK,
)

# Rating of the larger fuse against the smaller, from which on only the smaller opens. From memory:
# gG against gG 1.6; fast class T against class T 3, class J against class J 2; anything else is
# taken as the slowest to tell apart.
_RATIO = {"gG": 1.6, "class-j": 2.0}
_OTHERWISE = 3.0
_TWO = 2


def selective(
    ground: Groundwork, circuits: tuple[Circuit, ...], fuses: Mapping[str, FuseChoice]
) -> tuple[Finding, ...]:
    """Return what was found of fuses in series; `fuses` are by their place.

    Not being selective does no harm to the pack: more of it stands still. So it is a note.
    """
    strings = ground.build.pack.strings
    sized = [
        (c, fuse)
        for c in circuits
        if (fuse := fuses.get(c.place)) is not None and fuse.size is not None
    ]
    string = next((fuse for c, fuse in sized if c.kind == STRING), None)
    found = []
    if strings == _TWO:
        found.append(
            state(
                TWO_STRINGS,
                Severity.NOTE,
                about="string fuses",
                detail="A fault in one of the two strings is fed by the other alone; both fuses "
                "see the same current and both may open. The whole pack may then stand still, "
                "and no choice of sizes mends it.",
            )
        )
    if string is None:
        return tuple(found)
    if strings > _TWO:
        found.append(_in_a_string(strings, string))
    found += [_behind_main(strings, string, fuse) for c, fuse in sized if c.kind == MAIN]
    return tuple(found)


def ratio_of(*fuses: FuseChoice) -> float:
    """Return the ratio of ratings that keeps fuses of these families apart."""
    families = [fuse.family for fuse in fuses if fuse.family is not None]
    return max(_ratio(f) for f in families)


def _ratio(family: FuseFamily) -> float:
    return _RATIO.get(family.characteristic, _RATIO.get(family.key, _OTHERWISE))


def _in_a_string(strings: int, fuse: FuseChoice) -> Finding:
    return at_least(
        SELECTIVE_STRING,
        SHARE.of(float(strings - 1)),
        SHARE.of(ratio_of(fuse)),
        about="string fuses",
        otherwise=Severity.NOTE,
        value_name="the current of the faulted string's fuse against that of each other",
        limit_name="what tells two fuses of this family apart",
        remedy="Expect several string fuses to open at once after a fault in a string: replace "
        "them all and look for the cause in the modules.",
    )


def _behind_main(strings: int, string: FuseChoice, main: FuseChoice) -> Finding:
    assert string.size is not None  # noqa: S101  (asked by the caller)
    assert main.size is not None  # noqa: S101
    return at_least(
        SELECTIVE_MAIN,
        SHARE.of(strings * string.size / main.size),
        SHARE.of(ratio_of(string, main)),
        about=main.place,
        otherwise=Severity.NOTE,
        value_name=f"all string fuses together ({strings} × {say(string.size, 'A')}) against it",
        limit_name="what tells fuses of these families apart",
        remedy="Expect string fuses to open together with this one after a fault in its cable or "
        "device: look at every fuse before it is closed again.",
    )
