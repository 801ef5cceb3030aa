"""The protection schedule in HTML: each fuse between its bounds, and the fault levels."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.describe.fuses import FuseFamily
from evpack.outcome.protection import FaultBand, FuseChoice, ProtectionSchedule
from evpack.show.clean import escaped, prose
from evpack.show.html_tables import cell, folded, how, row, summary_of, table, value_of
from evpack.show.words import NOT_TO_BUY, count_of, shown, told

_HEADS = (
    "place",
    "fuse",
    "how many",
    "rating at least",
    "rating at most",
    "DC rating at least",
    "must interrupt",
)


def fuse_rows(fuse: FuseChoice) -> str:
    """Return one place as two rows that stay together: the choice, then the reasons."""
    size = "✕ none fits" if fuse.size is None else shown(fuse.size, "A")
    if fuse.size is None and (fuse.lower is None or fuse.upper is None):
        size = "? cannot tell yet"
    bounds = (fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting)
    first = (
        f'<tr><th scope="row">{prose(fuse.place)}</th>'
        f'<td class="evp-enter">{prose(size)}</td>{cell(_HEADS[2], str(fuse.count))}'
        + "".join(
            cell(head, value_of(bound)) for head, bound in zip(_HEADS[3:], bounds, strict=True)
        )
        + "</tr>"
    )
    told_more = [f"<p>{prose(fuse.reason)}</p>"] if fuse.reason else []
    if fuse.change:
        told_more.append(f"<p><b>To make one fit:</b> {prose(fuse.change)}</p>")
    if fuse.family is not None:
        told_more.append(f'<p class="evp-soft">{_family(fuse.family)}</p>')
    told_more += [
        folded(f"{prose(number.name)}: {summary_of(number)}", how(number, named=True))
        for number in bounds
        if number is not None
    ]
    return (
        f'<tbody>{first}<tr class="evp-under"><td></td><td colspan="6">{"".join(told_more)}</td>'
        "</tr></tbody>"
    )


def _family(family: FuseFamily) -> str:
    """Return what is known of a family; typical ratings are said to be typical."""
    standard = f" ({escaped(family.standard)})" if family.standard else ""
    typical = "typically " if family.basis is Basis.ASSUMED else ""
    words = (
        f"{escaped(family.name)}{standard}: {typical}{prose(told(family.dc_voltage))} DC, "
        f"interrupts {prose(told(family.interrupting))}. The print on the fuse decides."
    )
    note = family.note.strip()
    return f"{words} {prose(note[:1].upper() + note[1:])}" if note else words


def fuse_table(fuses: tuple[FuseChoice, ...]) -> str:
    """Return the table of fuses."""
    return table(
        "Fuses",
        _HEADS,
        "".join(fuse_rows(fuse) for fuse in fuses),
        rows=False,
        kind="evp-cards",
    )


def fault_row(band: FaultBand) -> str:
    """Return a place with the band of its fault current."""
    return row(
        prose(band.place),
        value_of(band.low),
        value_of(band.high),
        "".join(
            folded(f"{name}: {summary_of(number)}", how(number, named=True))
            for name, number in (("least", band.low), ("most", band.high))
            if number is not None
        ),
    )


def fault_table(faults: tuple[FaultBand, ...]) -> str:
    """Return the table of fault levels."""
    return table(
        "Current into a dead short",
        ("place", "at least", "at most", "how it comes about"),
        "".join(fault_row(band) for band in faults),
    )


def protection_tables(schedule: ProtectionSchedule) -> str:
    """Return the whole schedule."""
    parts = []
    if schedule.withheld and schedule.fuses:
        parts.append(f'<p class="evp-banner evp-stop"><b>✕ {prose(NOT_TO_BUY)}</b></p>')
    if schedule.fuses:
        parts.append(fuse_table(schedule.fuses))
        count = sum(fuse.count for fuse in schedule.fuses)
        parts.append(
            f'<p class="evp-soft">{count_of(count, "fuse")} in all. The least fault current must '
            "still melt the fuse quickly; the most must not burst it.</p>"
        )
    if schedule.faults:
        parts.append(fault_table(schedule.faults))
    return "".join(parts) or "<p>No fuse was asked for.</p>"
