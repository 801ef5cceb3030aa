"""Cards for an emergency, for people who know nothing of the pack, and labels for its modules.

General advice of common practice, no source; the rules of the fire service come first. Whatever
the sheet does not say is a blank to write in, and said to be missing. What nobody said is never
told as if it were not there.
"""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.finding import Severity
from evpack.base.fitted import is_not_fitted
from evpack.describe.build import Build
from evpack.describe.safeguards import Disconnect, EmergencyOff
from evpack.outcome.design import Design
from evpack.show.doc import (
    Block,
    Hand,
    Head,
    Items,
    Para,
    Part,
    Safe,
    Small,
    Strong,
    Text,
    Value,
)
from evpack.show.words import count_of, told

# What stays live where the emergency disconnect is not known to stop it.
_STAYS = (
    ("opens_every_string", "The cables and bars of the pack", "open every string"),
    ("stops_charging", "What the chargers feed", "stop every charger"),
    ("stops_inverters", "The outlets behind the inverters", "stop the inverters"),
)


_MISSING = Small("(? the sheet does not say)")
# The rules that know of an array's voltage: whether the one on the coldest morning is settled, and
# the highest known.
_COLD, _TOUCH = "solar.cold-voltage", "solar.touch"


def fire_card(design: Design) -> Part:
    """Return the card for smoke and fire: what is here, and what to do, to be read from 2 m."""
    build = design.build
    steps = (
        (
            Strong("Everybody out."),
            " Close the door behind you. Do not breathe the smoke.",
        ),
        (
            Strong("Call the fire service"),
            " ",
            Hand.LINE,
            ". Say: ",
            Strong("battery fire"),
            ", and what stands above.",
        ),
        _emergency_off(build),
        (Strong("Stay out."), " It can burn again hours or days later."),
        "Putting it out, opening and moving it: leave that to the fire service.",
    )
    live = (
        Strong("▲ The modules cannot be switched off."),
        " With every switch open they still carry up to ",
        Value(float(build.pack.module.terminals_highest.m), "V", Safe.UP),
        f" each.{_sunlit(build)}",
    )
    return Part(
        "card fire",
        (
            *_what(design),
            Head("Smoke, hissing, swelling, strange smell, heat", 3),
            Items(steps, numbered=True),
            Part("live", (Para(live),)),
        ),
    )


def off_card(design: Design) -> Part:
    """Return the card for switching off when nothing burns, and whom to call."""
    return Part(
        "card off",
        (
            *_what(design),
            Head("To switch it off when nothing burns, in this order", 3),
            Items(_off(design.build), numbered=True),
            Head("What stays live", 3),
            Items(_live(design.build)),
            Para(
                "Work on it is for people who know it, with a meter and leads rated for the "
                "highest DC voltage above."
            ),
            Head("Call", 3),
            *(Para((f"{whom} ", Hand.LINE)) for whom in ("Owner", "Electrician", "Utility")),
        ),
    )


def _off(build: Build) -> Iterator[Text]:
    yield "Switch the loads off, then the inverters."
    sun = has_sun(build)
    if sun is not False:
        where = ": solar disconnects" if sun else ", if there are panels: disconnects"
        yield (f"Switch off the sun{where} at ", Hand.LINE)
    yield ("Switch off utility and generator at ", Hand.LINE)
    yield _disconnect(build)


def _what(design: Design) -> Iterator[Block]:
    """Yield what is here."""
    build = design.build
    pack, chemistry = build.pack, build.pack.module.chemistry
    # Every chemistry with a charge voltage is a lithium-ion one; others are told by name alone.
    kind = "Lithium-ion battery" if chemistry.targets is not None else "Battery"
    volts = Value(pack.modules_in_series * float(pack.module.terminals_highest.m), "V", Safe.UP)
    yield Para((f"{kind}, up to ", volts, f" DC, {told(pack.energy)}"), "title")
    yield from array_volts(design)
    modules = f"{count_of(pack.modules, 'vehicle module')}, {chemistry.name}. Place: "
    yield Para((modules, _place(build.site.place)))


def _place(place: str) -> Text:
    return place or (Hand.LINE, " ", _MISSING)


def _sunlit(build: Build) -> str:
    sun = has_sun(build)
    if sun is False:
        return ""
    any_at_all = "" if sun else ", if any,"
    return f" Solar cables{any_at_all} are live in daylight."


def _emergency_off(build: Build) -> Text:
    found = build.safeguards.emergency_off
    if is_not_fitted(found):
        return (
            "There is ",
            Strong("no emergency disconnect"),
            ". Do not go to the pack to switch it off.",
        )
    place = found.place if isinstance(found, EmergencyOff) else ""
    return (
        "If you need not pass the pack: press the ",
        Strong("emergency disconnect"),
        ": ",
        Strong(_place(place)),
        ".",
    )


def _disconnect(build: Build) -> Text:
    found = build.safeguards.disconnect
    if is_not_fitted(found):
        return (Strong("There is no battery disconnect."), " The pack stays joined.")
    place = found.place if isinstance(found, Disconnect) else ""
    load = "" if isinstance(found, Disconnect) and found.breaks_load else ", only without current"
    return (Strong((f"Open the battery disconnect{load}: ", _place(place), ".")), " Lock it.")


def _live(build: Build) -> Iterator[str]:
    """Yield what stays live, and what nobody said that the emergency disconnect stops."""
    yield "The modules and all metal joined to them, with every switch open."
    sun = has_sun(build)
    if sun is not False:
        any_at_all = "" if sun else ", if there are any (? the sheet does not say)"
        yield f"The solar cables in daylight{any_at_all}."
    found = build.safeguards.emergency_off
    if isinstance(found, EmergencyOff):
        for field, what, does in _STAYS:
            answer = getattr(found, field)
            if answer is None:
                yield f"? {what}: nobody said that the emergency disconnect would {does}."
            elif not answer:
                yield f"▲ {what}: the emergency disconnect does not {does}."


# --- The sun --------------------------------------------------------------------------------------


def has_sun(build: Build) -> bool | None:
    """Return whether there are solar cables; None where nobody said.

    A solar charger has them, whoever settles what feeds it. Without one, ``pv = "none"`` says that
    there are none.
    """
    if build.solar_arrays or any(charger.source == "solar" for charger in build.all_chargers):
        return True
    return None if build.arrays is None else False


def array_volts(design: Design) -> Iterator[Block]:
    """Yield the most that solar cables may carry; nothing where there are none.

    Told as the most only where every solar charger has its arrays and the cold voltage of each is
    settled; else as what is known of it, with a blank.
    """
    sun = has_sun(design.build)
    if sun is False:
        return
    cold = [side.cold_open.value for side in design.solar if side.cold_open is not None]
    if sun and _settled(design):
        yield Para(("Solar cables: up to ", Value(max(cold), "V", Safe.UP), " DC."), "strong")
        return
    cold += [f.value for f in design.findings if f.rule.key == _TOUCH and f.value is not None]
    least = (Value(max(cold), "V", Safe.UP), " DC or more, ") if cold else ()
    any_at_all = "" if sun else ", if there are any"
    volts = (f"Solar cables{any_at_all}: ", *least, "up to ", Hand.LINE, " V DC ", _MISSING)
    yield Para(volts, "strong")


def _settled(design: Design) -> bool:
    """Return whether the voltage on the coldest morning is known of whatever feeds a charger."""
    build = design.build
    fed = {array.feeds for array in build.solar_arrays}
    if any(c.source == "solar" and c.name not in fed for c in build.all_chargers):
        return False
    known = {side.array for side in design.solar if side.cold_open is not None}
    judged = {
        f.about for f in design.findings if f.rule.key == _COLD and f.severity != Severity.UNKNOWN
    }
    return {array.name for array in build.solar_arrays} <= known & judged


# --- Labels ---------------------------------------------------------------------------------------


def labels_sheet(design: Design) -> Iterator[Block]:
    """Yield a label for each place in the pack, to be cut out and stuck on."""
    pack = design.build.pack
    yield Para(
        "Place 1 is the module whose minus is the minus of its string. Measure which terminal is "
        "plus, then write + and − into the circles. Cut along the broken lines."
    )
    yield Part(
        "labels",
        (
            _label(design.build, string, place)
            for string in range(1, pack.strings + 1)
            for place in range(1, pack.modules_in_series + 1)
        ),
    )


def _label(build: Build, string: int, place: int) -> Part:
    """Return a label.

    Which terminal is plus is read off the module with a meter: a printed sign could be stuck on
    the wrong way round, and a string joined by it.
    """
    module, pack = build.pack.module, build.pack
    where = Strong(f"String {string} · {place} of {pack.modules_in_series}")
    highest = Value(float(module.terminals_highest.m), "V", Safe.UP)
    what = (module.name, module.chemistry.name, told(module.capacity), told(module.energy))
    return Part(
        "module-label",
        (
            Part("poles", (Para((Hand.POLE, where, Hand.POLE)),)),
            Para((f"{told(module.terminals_nominal)}, up to ", highest, " DC"), "title"),
            Para("Always live: it cannot be switched off.", "strong"),
            Para(" · ".join(what)),
            Para(("serial ", Hand.LINE)),
            Para(("at rest ", Hand.SHORT, " V, date ", Hand.SHORT)),
        ),
    )
