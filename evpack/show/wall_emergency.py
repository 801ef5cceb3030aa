"""Two cards for an emergency, for people who know nothing of the pack.

General advice of common practice, no source; the rules of the fire service come first. Whatever
the sheet does not say is a blank to write in, and said to be missing.
"""

from __future__ import annotations

from evpack.base.fitted import is_not_fitted
from evpack.base.wording import say_up
from evpack.describe.build import Build
from evpack.describe.safeguards import Disconnect, EmergencyOff
from evpack.outcome.design import Design
from evpack.show.clean import prose
from evpack.show.wall_labels import BLANK
from evpack.show.wall_sun import MISSING, array_volts, has_sun
from evpack.show.words import count_of, told

# What stays live where the emergency disconnect is not known to stop it.
_STAYS = (
    ("opens_every_string", "The cables and bars of the pack", "open every string"),
    ("stops_charging", "What the chargers feed", "stop every charger"),
    ("stops_inverters", "The outlets behind the inverters", "stop the inverters"),
)


def fire_card(design: Design) -> str:
    """Return the card for smoke and fire: what is here, and what to do, to be read from 2 m."""
    build = design.build
    return (
        f'<div class="card fire">{_what(design)}'
        "<h3>Smoke, hissing, swelling, strange smell, heat</h3>"
        "<ol><li><b>Everybody out.</b> Close the door behind you. Do not breathe the smoke.</li>"
        f"<li><b>Call the fire service</b> {BLANK}. Say: <b>battery fire</b>, and what stands "
        "above.</li>"
        f"<li>{_emergency_off(build)}</li>"
        "<li><b>Stay out.</b> It can burn again hours or days later.</li>"
        "<li>Putting it out, opening and moving it: leave that to the fire service.</li></ol>"
        '<p class="live"><b>▲ The modules cannot be switched off.</b> With every switch open they '
        f"still carry {prose(_volts_each(build))} each.{_sun(build)}</p></div>"
    )


def off_card(design: Design) -> str:
    """Return the card for switching off when nothing burns, and whom to call."""
    build = design.build
    lines = ["Switch the loads off, then the inverters."]
    sun = has_sun(build)
    if sun is not False:
        where = ": solar disconnects" if sun else ", if there are panels: disconnects"
        lines.append(f"Switch off the sun{where} at {BLANK}")
    lines += [f"Switch off utility and generator at {BLANK}", _disconnect(build)]
    steps = "".join(f"<li>{line}</li>" for line in lines)
    return (
        f'<div class="card off">{_what(design)}'
        f"<h3>To switch it off when nothing burns, in this order</h3><ol>{steps}</ol>"
        f"<h3>What stays live</h3><ul>{_live(build)}</ul>"
        "<p>Work on it is for people who know it, with a meter and leads rated for the highest "
        "DC voltage above.</p>"
        f"<h3>Call</h3><p>Owner {BLANK}</p><p>Electrician {BLANK}</p><p>Utility {BLANK}</p></div>"
    )


def _what(design: Design) -> str:
    build = design.build
    pack, chemistry = build.pack, build.pack.module.chemistry
    # Every chemistry with a charge voltage is a lithium-ion one; others are told by name alone.
    kind = "Lithium-ion battery" if chemistry.targets is not None else "Battery"
    volts = say_up(pack.modules_in_series * float(pack.module.terminals_highest.m), "V")
    where = prose(build.site.place) if build.site.place else f"{BLANK} {MISSING}"
    return (
        f'<p class="what">{kind}, up to {prose(volts)} DC, {prose(told(pack.energy))}</p>'
        f"{array_volts(design)}"
        f"<p>{prose(count_of(pack.modules, 'vehicle module'))}, {prose(chemistry.name)}. "
        f"Place: {where}</p>"
    )


def _volts_each(build: Build) -> str:
    return f"up to {say_up(float(build.pack.module.terminals_highest.m), 'V')}"


def _sun(build: Build) -> str:
    sun = has_sun(build)
    if sun is False:
        return ""
    any_at_all = "" if sun else ", if any,"
    return f" Solar cables{any_at_all} are live in daylight."


def _emergency_off(build: Build) -> str:
    found = build.safeguards.emergency_off
    if is_not_fitted(found):
        return "There is <b>no emergency disconnect</b>. Do not go to the pack to switch it off."
    place = found.place if isinstance(found, EmergencyOff) else ""
    where = prose(place) if place else f"{BLANK} {MISSING}"
    return f"If you need not pass the pack: press the <b>emergency disconnect</b>: <b>{where}</b>."


def _disconnect(build: Build) -> str:
    found = build.safeguards.disconnect
    if is_not_fitted(found):
        return "<b>There is no battery disconnect.</b> The pack stays joined."
    place = found.place if isinstance(found, Disconnect) else ""
    load = "" if isinstance(found, Disconnect) and found.breaks_load else ", only without current"
    where = prose(place) if place else f"{BLANK} {MISSING}"
    return f"<b>Open the battery disconnect{load}: {where}.</b> Lock it."


def _live(build: Build) -> str:
    """Return what stays live, and what nobody said that the emergency disconnect stops."""
    lines = ["The modules and all metal joined to them, with every switch open."]
    sun = has_sun(build)
    if sun is not False:
        any_at_all = "" if sun else ", if there are any (? the sheet does not say)"
        lines.append(f"The solar cables in daylight{any_at_all}.")
    found = build.safeguards.emergency_off
    if isinstance(found, EmergencyOff):
        for field, what, does in _STAYS:
            answer = getattr(found, field)
            if answer is None:
                lines.append(f"? {what}: nobody said that the emergency disconnect would {does}.")
            elif not answer:
                lines.append(f"▲ {what}: the emergency disconnect does not {does}.")
    return "".join(f"<li>{prose(line)}</li>" for line in lines)
