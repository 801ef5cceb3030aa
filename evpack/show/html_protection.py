"""The protection schedule in HTML: each fuse between its bounds, and the fault levels."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.protection import Circuit, FaultBand, FuseChoice, ProtectionSchedule
from evpack.show.clean import escaped, prose
from evpack.show.html_cables import cable_table
from evpack.show.html_devices import need_table, parts_table, precharge_table
from evpack.show.html_explained import explained_together
from evpack.show.html_tables import cell, number, row, table, value_of
from evpack.show.protection_words import fuse_words, least_words, most_words, rows_of
from evpack.show.words import NOT_TO_BUY, count_of, told

_HEADS = (
    "place",
    "device",
    "how many",
    "rating at least",
    "rating at most",
    "DC rating at least",
    "must interrupt",
)
_WIDTHS = (23, 22, 8, 12, 12, 12, 11)
_UNDER = len(_HEADS) - 1
_ROUNDED = (
    "Bounds are rounded to the safe side: up what must be reached, down what must not be passed."
)


def fuse_rows(fuse: FuseChoice) -> str:
    """Return one place as two rows that stay together: the choice, then the reasons."""
    cells = (
        number(least_words(fuse.lower)),
        number(most_words(fuse.upper)),
        number(least_words(fuse.voltage)),
        number(least_words(fuse.interrupting)),
    )
    first = (
        f'<tr><th scope="row">{prose(fuse.place)}</th>{_device(fuse)}'
        f"{cell(_HEADS[2], str(fuse.count))}"
        + "".join(cell(head, inner) for head, inner in zip(_HEADS[3:], cells, strict=True))
        + "</tr>"
    )
    told_more = [f"<p>{prose(fuse.reason)}</p>"] if fuse.reason else []
    if fuse.change:
        told_more.append(f"<p><b>To make one fit:</b> {prose(fuse.change)}</p>")
    return _together(first, "".join(told_more))


def _device(fuse: FuseChoice) -> str:
    """Return the cell that names the device: its size, its family, and whether it is a breaker."""
    words = fuse_words(fuse)
    if fuse.size is None:
        tone = f"evp-enter evp-{words.tone}"
        return f'<td class="{tone}">{words.glyph} {prose(words.word)}</td>'
    family = ""
    if fuse.family is not None:
        kind = "" if fuse.family.kind in fuse.family.name.lower() else f", {fuse.family.kind}"
        family = f'<br/><span class="evp-of">{prose(fuse.family.name)}{kind}</span>'
    return f'<td class="evp-enter">{prose(words.word)}{family}</td>'


def _none_needed(circuit: Circuit) -> str:
    first = (
        f'<tr><th scope="row">{prose(circuit.place)}</th><td class="evp-enter">none needed</td>'
        + "".join(cell(head, number("–")) for head in _HEADS[2:])
        + "</tr>"
    )
    return _together(first, f"<p>{prose(circuit.no_fuse)}</p>")


def _together(first: str, under: str) -> str:
    below = f'<tr class="evp-under"><td></td><td colspan="{_UNDER}">{under}</td></tr>'
    return f"<tbody>{first}{below if under else ''}</tbody>"


def _family(family: FuseFamily) -> str:
    """Return what is known of a family; typical ratings are said to be typical."""
    standard = f" ({escaped(family.standard)})" if family.standard else ""
    typical = "typically " if family.basis is Basis.ASSUMED else ""
    words = (
        f"{escaped(family.name)}{standard}: {typical}{prose(told(family.dc_voltage))} DC, "
        f"interrupts {prose(told(family.interrupting))}. The print on it decides."
    )
    note = family.note.strip()
    return f"{words} {prose(note[:1].upper() + note[1:])}" if note else words


def fuse_table(fuses: tuple[FuseChoice, ...], without: tuple[Circuit, ...] = ()) -> str:
    """Return the table of fuses, and of the circuits that need none; then how it comes about."""
    families = dict.fromkeys(_family(fuse.family) for fuse in fuses if fuse.family is not None)
    numbers = (
        (fuse.place, bound)
        for fuse in fuses
        for bound in (fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting)
    )
    return table(
        "Protection schedule",
        _HEADS,
        "".join(fuse_rows(fuse) for fuse in fuses) + "".join(_none_needed(c) for c in without),
        rows=False,
        widths=_WIDTHS,
        kind="evp-cards",
    ) + explained_together(numbers, "".join(f"<p>{words}</p>" for words in families))


def fault_row(band: FaultBand) -> str:
    """Return a place with the band of its fault current, both ends rounded to the safe side."""
    assumed = (
        ' <span class="evp-basis evp-assumed">resistance assumed</span>' if band.assumed else ""
    )
    return row(
        prose(band.place) + assumed,
        number(most_words(band.low)),
        number(least_words(band.high)),
        value_of(band.time_constant),
    )


def fault_table(faults: tuple[FaultBand, ...]) -> str:
    """Return the table of fault levels."""
    said = (
        '<p class="evp-soft">The least fault current must still open the fuse quickly; the most '
        "must not burst it. The time constant (L/R) says how hard the arc is to break.</p>"
    )
    if any(band.assumed for band in faults):
        said += (
            "<p>Nobody measured the resistance of the modules: the worst that is credible was "
            "taken for it. Measure it.</p>"
        )
    numbers = (
        (band.place, number)
        for band in faults
        for number in (band.low, band.high, band.time_constant)
    )
    return (
        table(
            "Fault levels: current into a dead short",
            ("place", "at least", "at most", "time constant"),
            "".join(fault_row(band) for band in faults),
            widths=(40, 20, 20, 20),
        )
        + said
        + explained_together(numbers)
    )


def protection_tables(schedule: ProtectionSchedule, solar: str = "") -> str:
    """Return the whole schedule; `solar` is the markup of the solar side, before what to buy."""
    parts = []
    if schedule.withheld and (schedule.fuses or schedule.parts):
        parts.append(f'<p class="evp-banner evp-stop"><b>✕ {prose(NOT_TO_BUY)}</b></p>')
    if schedule.fuses:
        without = tuple(circuit for circuit, fuse, _ in rows_of(schedule) if fuse is None)
        parts.append(fuse_table(schedule.fuses, without))
        count = sum(fuse.count for fuse in schedule.fuses)
        words = count_of(count, "fuse or breaker", "fuses or breakers")
        parts.append(f'<p class="evp-soft">{words} in all. {_ROUNDED}</p>')
    if schedule.cables:
        parts.append(cable_table(schedule))
    if schedule.needs:
        parts.append(need_table(schedule.needs))
    parts += [precharge_table(plan) for plan in schedule.precharge]
    if schedule.faults:
        parts.append(fault_table(schedule.faults))
    parts.append(solar)
    if schedule.parts:
        parts.append(parts_table(schedule.parts, withheld=schedule.withheld))
    return "".join(parts) or "<p>No fuse was asked for.</p>"
