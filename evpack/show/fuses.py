"""Fuses: each between its bounds, or that none fits; the circuits that need none."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.base.basis import Basis
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.protection import Circuit, FuseChoice
from evpack.show.doc import (
    Below,
    Column,
    Detail,
    Doc,
    Explained,
    Mark,
    Number,
    Para,
    Row,
    Strong,
    Table,
    Value,
    document,
    least,
    most,
)
from evpack.show.words import Words, count_of, shown, told

_FUSES = (
    Column("place", 23),
    Column("device", 22, entry=True),
    Column("how many", 8, count=True),
    Column("rating at least", 12, number=True, detail=True),
    Column("rating at most", 12, number=True, detail=True),
    Column("DC rating at least", 12, number=True, detail=True),
    Column("must interrupt", 11, number=True, detail=True),
)
_BOUNDS = 4  # of its columns
_ROUNDED = (
    "Bounds are rounded to the safe side: up what must be reached, down what must not be passed."
)


def fuse_words(fuse: FuseChoice) -> Words:
    """Return glyph and words of a choice of fuse: its size, none fits, or not settled."""
    if fuse.size is not None:
        return Words("", shown(fuse.size, "A"), fuse.reason, "ok")
    bounds = (fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting)
    if None in bounds:
        return Words("?", "cannot tell yet", fuse.reason, "unknown")
    return Words("✕", "none fits", fuse.reason, "stop")


def fuse_table(fuses: Sequence[FuseChoice], without: Sequence[Circuit] = ()) -> Doc:
    """Yield fuses between their bounds, the circuits that need none, and how it comes about."""
    rows = (*map(_fuse, fuses), *map(_none_needed, without))
    yield Table(_FUSES, rows, "Protection schedule", cards=True)
    families = dict.fromkeys(_family(fuse.family) for fuse in fuses if fuse.family is not None)
    numbers = (
        (fuse.place, bound)
        for fuse in fuses
        for bound in (fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting)
    )
    yield Explained(numbers, tuple(map(Para, families)))


def count_line(fuses: Sequence[FuseChoice]) -> Detail:
    """Return how many there are in all, and how their bounds are rounded."""
    count = sum(fuse.count for fuse in fuses)
    words = count_of(count, "fuse or breaker", "fuses or breakers")
    return Detail((Para(f"{words} in all. {_ROUNDED}", "soft"),))


def _fuse(fuse: FuseChoice) -> Row:
    under = [Para(fuse.reason)]
    if fuse.change:
        under.append(Para((Strong("To make one fit:"), f" {fuse.change}")))
    bounds = least(fuse.lower), most(fuse.upper), least(fuse.voltage), least(fuse.interrupting)
    return Row((fuse.place, _device(fuse), str(fuse.count), *bounds), under)


def _device(fuse: FuseChoice) -> object:
    """Return what names the device: its size, its family, and whether it is a breaker."""
    if fuse.size is None:
        words = fuse_words(fuse)
        return Mark(words.glyph, words.word, words.tone)
    size = Value(fuse.size, "A")
    if fuse.family is None:
        return size
    kind = "" if fuse.family.kind in fuse.family.name.lower() else f", {fuse.family.kind}"
    return (size, Below(f"{fuse.family.name}{kind}"))


def _none_needed(circuit: Circuit) -> Row:
    empty = [Number("–")] * (1 + _BOUNDS)
    return Row((circuit.place, "none needed", *empty), (Para(circuit.no_fuse),))


def _family(family: FuseFamily) -> str:
    """Return what is known of a family; typical ratings are said to be typical."""
    standard = f" ({family.standard})" if family.standard else ""
    typical = "typically " if family.basis is Basis.ASSUMED else ""
    words = (
        f"{family.name}{standard}: {typical}{told(family.dc_voltage)} DC, "
        f"interrupts {told(family.interrupting)}. The print on it decides."
    )
    note = family.note.strip()
    return f"{words} {note[:1].upper() + note[1:]}" if note else words


@document.register
def _(fuse: FuseChoice) -> Doc:
    yield from fuse_table((fuse,))
