"""What stands around the pack: cases joined to earth, surge devices, labels."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.wording import say_up
from evpack.commission.high_voltage import bonded, dangerous
from evpack.commission.steps import Stage
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design

_AROUND = Stage("around", "Around the pack, before any of it is joined")


def around(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is done around the pack before it is joined."""
    build = design.build
    if dangerous(design):
        yield bonded(_AROUND)
    else:
        yield _AROUND.asks(
            "bonding",
            "Metal cases and racks",
            "Every metal case and rack that a hand reaches is joined to earth by a conductor of "
            "its own, on bare metal.",
            "A case that a pole or a line of the AC side touches is live till it is.",
            "Join it before anything else.",
        )
    if build.safeguards.surge_protection:
        yield _AROUND.asks(
            "surge",
            "Surge protective devices",
            "One at each end of every long line, rated for its voltage, its window showing that it "
            "is sound, its wire to earth short and straight.",
            "One that is spent, or on a long wire, protects nothing.",
            "Change it, or shorten the wire.",
        )
    yield _AROUND.asks(
        "labels",
        "Labels and sheets",
        f"Posted: at the pack, up to {say_up(float(build.pack.highest.m), 'V')} DC, live with "
        "every switch open; at the disconnect, how to switch off; at the incoming supply, that "
        "there is a second source (evpack sheets prints them).",
        "Whoever comes in the dark knows nothing of it.",
        "Write them by hand till they are printed.",
    )
