"""What cables, bars, fuses and switches state, as rows of label, value and how it is known."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.fitted import NotFitted
from evpack.base.wording import number, say
from evpack.describe.cabling import Busbar, Cabling, Conductor, Run
from evpack.describe.safeguards import Disconnect, EmergencyOff, FuseFamily, Precharge, Safeguards
from evpack.show.fact import Fact, Facts, facts, many, row, rows, value_words
from evpack.show.gather import source_words
from evpack.show.words import count_of, told

LEFT_OPEN = "size left to evpack"
_RUNS = (
    ("string to bar", "module_lead"),
    ("module to module", "link"),
    ("bar to inverter", "main"),
    ("charger to bar", "charger"),
    ("solar array to charger", "array"),
)


def runs_of(cabling: Cabling) -> tuple[Run, ...]:
    """Return every run that is described, those of single devices last."""
    usual = [getattr(cabling, field) for _, field in _RUNS]
    return tuple(run for run in (*usual, *cabling.own.values()) if run is not None)


def not_chosen(run: Run) -> bool:
    """Return whether the size of a run is left open and its conductor only stands in for one."""
    return run.left_open and run.conductor == run.alternatives[-1]


def _size(run: Run) -> str:
    if not_chosen(run):
        return LEFT_OPEN
    return f"{run.conductor.size}{', chosen by evpack' if run.left_open else ''}"


@facts.register
def _conductor(conductor: Conductor) -> Facts:
    return Facts(
        f"Copper conductor, {conductor.size}",
        (
            Fact("cross-section", f"{conductor.area:.4g} mm²"),
            Fact(
                "resistance, warm, each metre",
                say(conductor.ohm_per_metre, "Ω"),
                None,
                source_words(conductor.resistance_source),
            ),
            Fact(
                "carries for good",
                say(conductor.ampacity, "A"),
                None,
                f"{conductor.conditions}; {source_words(conductor.ampacity_source)}",
            ),
            Fact("which brings it to", say(conductor.hottest, "°C")),
            Fact("in an ambient of", say(conductor.ambient, "°C")),
            Fact("k of I²t = k²S²", f"{number(conductor.withstand)} A √s/mm²"),
        ),
    )


@facts.register
def _run(run: Run) -> Facts:
    return Facts(
        run.name,
        many(
            Fact("conductor", _size(run)),
            row(run, "length, one way", "length"),
            Fact("conductors in parallel", str(run.parallel)),
            row(run, "the shortest of them", "shortest") if run.shortest is not None else (),
            rows(run, ("protected all along", "protected")) if run.protected is not None else (),
            ()
            if not_chosen(run)
            else (
                Fact("resistance there and back, warm", told(run.resistance), Basis.COMPUTED),
                Fact("carries for good", told(run.ampacity), None, run.conductor.conditions),
            ),
        ),
    )


@facts.register
def _cabling(cabling: Cabling) -> Facts:
    found = [_laid(label, getattr(cabling, field), field) for label, field in _RUNS]
    found += [_laid(f"to {device}", run, "own") for device, run in cabling.own.items()]
    bar = cabling.bar
    found.append(
        Fact("bus bars", _undecided("bar"))
        if bar is None
        else Fact("bus bars", f"{_bar_size(bar)}, {told(bar.length)} long", bar.basis.of("width"))
    )
    return Facts("Cabling", tuple(found))


def _laid(label: str, run: Run | None, field: str) -> Fact:
    if run is None:
        return Fact(label, _undecided(field))
    note = f"{told(run.resistance)} there and back, carries {told(run.ampacity)}"
    side = f"{count_of(run.parallel, 'conductor')} in parallel"
    return Fact(
        label,
        f"{_size(run)}, {told(run.length)} one way, {side}",
        run.basis.of("length"),
        "" if not_chosen(run) else note,
    )


def _undecided(field: str) -> str:
    """Return what it means that a part of the cabling is not described."""
    if field == "link":
        return "none, or within the modules' resistance"
    return "not described"


def _bar_size(bar: Busbar) -> str:
    side = f"{bar.count} × " if bar.count > 1 else ""
    width, thickness = (number(1000 * float(q.m), 3) for q in (bar.width, bar.thickness))
    return f"{side}{width} × {thickness} mm for each pole"


@facts.register
def _bar(bar: Busbar) -> Facts:
    where = bar.conditions or source_words(bar.source)
    return Facts(
        bar.name,
        (
            Fact("copper", _bar_size(bar), bar.basis.of("width")),
            row(bar, "length", "length"),
            row(bar, "in a box", "enclosed"),
            row(bar, "one bar carries for good", "carries", where),
            Fact("resistance of both, end to end, warm", told(bar.resistance), Basis.COMPUTED),
        ),
    )


@facts.register
def _family(family: FuseFamily) -> Facts:
    breaker = family.kind == "breaker"
    poles = f", {count_of(family.poles, 'pole')} in series" if breaker else ""
    return Facts(
        family.name,
        many(
            Fact("kind", family.kind),
            Fact("standard", family.standard) if family.standard else (),
            Fact(f"DC voltage{poles}", told(family.dc_voltage), family.basis),
            Fact("interrupts at that voltage", told(family.interrupting), family.basis),
            Fact("largest size", told(family.largest), family.basis),
            Fact("breaks one way only", value_words(family.polarised)) if breaker else (),
            Fact("characteristic", family.characteristic) if family.characteristic else (),
            [
                Fact(label, told(value), family.basis)
                for label, value in (
                    ("trips at once from", family.instantaneous_trip),
                    ("least I²t that melts it", family.melting),
                    ("most I²t that it lets through", family.clearing),
                    ("clears its full fault current within", family.clearing_time),
                    ("size that is there", family.rating),
                )
                if value is not None
            ],
            Fact("source", source_words(family.source)),
        ),
        family.note,
    )


@facts.register
def _safeguards(safeguards: Safeguards) -> Facts:
    """Switches and precharge have rows of their own; here stands whether there are any."""
    return Facts(
        "Protection",
        many(
            Fact("string fuse", _wanted(safeguards.string_fuse)),
            Fact("main fuse", _wanted(safeguards.main_fuse)),
            Fact("charger fuse", _wanted(safeguards.charger_fuse)),
            Fact("array fuse", _wanted(safeguards.array_fuse)),
            rows(
                safeguards,
                ("fuses in both poles", "both_poles"),
                ("fuses at both ends of each string's lead", "both_ends"),
            ),
            rows(safeguards, ("warmest air around fuses", "ambient"))
            if safeguards.ambient is not None
            else (),
            Fact("still to be bought", ", ".join(safeguards.to_buy).replace("_", " "))
            if safeguards.to_buy
            else (),
            Fact("battery disconnect", _named(safeguards.disconnect)),
            Fact("emergency disconnect", _named(safeguards.emergency_off)),
            Fact("precharge", _named(safeguards.precharge)),
            rows(
                safeguards,
                ("surge protective devices", "surge_protection"),
                ("insulation monitoring", "insulation_monitoring"),
            ),
        ),
    )


def _wanted(fuse: FuseFamily | str) -> str:
    if isinstance(fuse, FuseFamily):
        return fuse.name
    return fuse or "the first family that fits"


def _named(part: Disconnect | EmergencyOff | Precharge | NotFitted | None) -> str:
    if isinstance(part, Disconnect | EmergencyOff | Precharge):
        return part.name
    return value_words(part)


@facts.register
def _disconnect(switch: Disconnect) -> Facts:
    withstands = "short-circuit current that it stands"
    if switch.behind:
        withstands = f"{withstands} behind {switch.behind}"
    return Facts(
        switch.name,
        rows(
            switch,
            ("DC voltage", "dc_voltage"),
            ("current", "current"),
            (withstands, "withstands"),
            ("may be opened under load", "breaks_load"),
            ("poles that it opens", "poles"),
            ("breaks one way only", "polarised"),
            ("where it is", "place"),
        ),
    )


@facts.register
def _emergency_off(off: EmergencyOff) -> Facts:
    return Facts(
        off.name,
        rows(
            off,
            ("where it is", "place"),
            ("opens every string", "opens_every_string"),
            ("stops all charging", "stops_charging"),
            ("stops the inverters", "stops_inverters"),
        ),
    )


@facts.register
def _precharge(precharge: Precharge) -> Facts:
    return Facts(
        precharge.name,
        many(
            row(precharge, "resistor", "resistance")
            if precharge.resistance is not None
            else Fact("resistor", "left to evpack"),
            rows(
                precharge,
                ("heat that it stands at once", "pulse"),
                ("main contact waits", "wait"),
                ("gives up after", "time_out"),
                ("main contact waits for the voltage", "checks_voltage"),
                ("one for each inverter", "each_inverter"),
            ),
        ),
    )
