"""What hangs beside the pack: a label for every module, and a card for an emergency."""

from __future__ import annotations

from evpack.base.wording import say_up
from evpack.describe.build import Build
from evpack.describe.safeguards import Disconnect, EmergencyOff
from evpack.outcome.design import Design
from evpack.show.clean import prose
from evpack.show.words import told

_BLANK = '<span class="blank"></span>'
_SHORT = '<span class="blank short"></span>'


def labels_sheet(design: Design) -> str:
    """Return a label for each place in the pack, to be cut out."""
    pack = design.build.pack
    labels = "".join(
        _label(design.build, string, place)
        for string in range(1, pack.strings + 1)
        for place in range(1, pack.modules_in_series + 1)
    )
    return (
        "<p>Place 1 is the module whose minus is the minus of its string. Cut along the broken "
        f'lines.</p><div class="labels">{labels}</div>'
    )


def _label(build: Build, string: int, place: int) -> str:
    module, pack = build.pack.module, build.pack
    highest = module.cells_in_series * float(module.highest.m)
    return (
        '<section class="module-label"><div class="poles"><span aria-hidden="true">−</span>'
        f'<b class="place">String {string} · {place} of {pack.modules_in_series}</b>'
        '<span aria-hidden="true">+</span></div>'
        f'<p class="volts">up to {prose(say_up(highest, "V"))} DC, always live</p>'
        f"<p>{prose(module.name)} · {prose(module.chemistry.name)} · "
        f"{prose(told(module.capacity))}</p>"
        f"<p>serial {_BLANK}</p><p>at rest {_SHORT} V, date {_SHORT}</p></section>"
    )


def emergency_card(design: Design) -> str:
    """Return the card for an emergency: for people who know nothing of the pack.

    General advice of common practice, no source; the fire service's own rules come first.
    """
    build = design.build
    pack = build.pack
    volts = say_up(float(pack.highest.m), "V")
    energy = told(pack.energy)
    what = (
        f'<p class="what">Battery of {prose(pack.modules)} vehicle modules, '
        f"{prose(volts)} DC, {prose(energy)}</p>"
        f"<p>{prose(pack.module.chemistry.name)}. Place: "
        f"{prose(build.site.place) if build.site.place else _BLANK}</p>"
    )
    return (
        f'<div class="card"><h2>In an emergency</h2>{what}'
        "<h3>Smoke, hissing, swelling, a strange smell, heat</h3>"
        "<ol><li><b>Everybody out.</b> Close the door behind you. Do not breathe the smoke: it is "
        "poisonous, and it can explode.</li>"
        "<li><b>Call the fire service</b>, say <b>battery fire</b> and what is written above.</li>"
        f"<li>On the way out, without passing the pack: {_off(build)}</li>"
        "<li>Do not go back in, not even when it seems over: it can catch fire again hours or days "
        "later.</li></ol>"
        f"<h3>To switch it off when nothing burns</h3>{_order(build)}"
        "<h3>What stays live</h3><ul>"
        "<li>The modules themselves and all metal joined to them, with every switch open.</li>"
        f"{_sun(build)}"
        "<li>Leave opening, moving and putting out the pack to the fire service and to people who "
        "know it.</li></ul>"
        "<h3>Call</h3>"
        f"<p>Fire service {_BLANK} Owner {_BLANK}</p>"
        f"<p>Electrician {_BLANK} Utility {_BLANK}</p></div>"
    )


def _off(build: Build) -> str:
    emergency = build.safeguards.emergency_off
    if not isinstance(emergency, EmergencyOff):
        return f"press the emergency disconnect, which is at {_BLANK} (the sheet names none)."
    place = prose(emergency.place) if emergency.place else _BLANK
    return f"press the <b>emergency disconnect: {place}</b>."


def _order(build: Build) -> str:
    disconnect = build.safeguards.disconnect
    if isinstance(disconnect, Disconnect):
        place = prose(disconnect.place) if disconnect.place else _BLANK
        last = f"<b>Battery disconnect: {place}.</b> Lock it."
    else:
        last = f"Battery disconnect: {_BLANK} (the sheet names none). Lock it."
    lines = ["Switch the loads off, then the inverters."]
    if build.arrays:
        lines.append(f"Solar disconnects: {_BLANK}")
    lines += [f"Utility and generator: {_BLANK}", last]
    return f"<ol>{''.join(f'<li>{line}</li>' for line in lines)}</ol>"


def _sun(build: Build) -> str:
    if not build.arrays:
        return ""
    return "<li>The solar cables, as long as there is daylight.</li>"
