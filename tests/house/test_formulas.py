"""House: every explained number is what its own formula gives with its own inputs.

The formula is what a person reads. Here it is evaluated, apart from the code that computed the
value, so that an explanation cannot drift from the number that it explains.
"""

from __future__ import annotations

import ast
import math
import operator
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import (
    good_array,
    good_bar,
    good_build,
    good_cabling,
    good_charger,
    good_family,
    good_inverter,
    good_site,
    solar_build,
    with_safeguards,
)

from evpack.base.finding import Severity
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import CHARGE, CURRENT, ENERGY, KINDS, POWER, VOLTAGE, Kind, registry
from evpack.base.wording import COUNT
from evpack.base.worked import Input, Worked, count
from evpack.check.source import demand
from evpack.commission.plan import plan_of
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Conductor, Run
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.site import Load, Site
from evpack.design import design
from evpack.load.library import chemistry
from evpack.load.places import data_dir
from evpack.load.sheet import read_sheet
from evpack.load.tables import sources
from evpack.outcome.design import Decision, Verdict
from evpack.protect.bounds import inverter_current
from evpack.setpoint.sheet import charge_current_allowed, charge_current_part

EXAMPLES = sorted((data_dir() / "examples").glob("*.toml"))
SYMBOL = re.compile(r"\{([^{}]+)\}")

# The numbers that no one line can hold. A new one is to be thought over before it stands here.
TOLD_IN_WORDS = {
    "energy from empty to full, at rest",
    "reachable energy, DC",
    "everyday energy, DC",
    "energy kept for outages, DC",
    "energy left after hours at float, DC",
    "stranded above the charge setting",
    "stranded below the end of discharge",
    "lost as heat on the way at the continuous load",
}


# The little language of `evpack.base.worked.Worked`, read apart from the library.

_NOISE = 1e-6  # of a step: so near to a step a value counts as on it
_OPERATORS: dict[type, Callable[[object, object], object]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


def down(value: float, first: float, step: float) -> float:
    return first + math.floor((value - first) / step + _NOISE) * step


def up(value: float, first: float, step: float) -> float:
    return first + math.ceil((value - first) / step - _NOISE) * step


IN_FLOATS = {"min": min, "max": max, "sqrt": math.sqrt, "down": down, "up": up}


def _alike(*quantities: object) -> object:
    """Return the first of several quantities that must be of one dimension."""
    first = registry.Quantity(quantities[0])
    for other in quantities[1:]:
        first.to_base_units() + registry.Quantity(other).to_base_units()
    return first


IN_UNITS = {
    "min": _alike,
    "max": _alike,
    "down": _alike,
    "up": _alike,
    "sqrt": lambda quantity: quantity**0.5,
}


def in_python(formula: str) -> tuple[str, list[str]]:
    """Return the formula as a Python expression, and its symbols in the order of their names."""
    symbols = list(dict.fromkeys(SYMBOL.findall(formula)))
    text = SYMBOL.sub(lambda m: f" x{symbols.index(m[1])} ", formula)
    for written, python in (("·", "*"), ("−", "-"), ("^", "**"), ("√(", "sqrt("), (" 1 h", " h")):
        text = text.replace(written, python)
    return text.strip(), symbols


def evaluate(formula: str, values: dict[str, object], functions: dict, hour: object) -> object:
    """Return what a formula gives; anything outside the little language is a ValueError."""
    text, symbols = in_python(formula)
    names = {f"x{place}": values[symbol] for place, symbol in enumerate(symbols)} | {"h": hour}

    def of(node: ast.expr) -> object:
        match node:
            case ast.BinOp(op=ast.Pow(), right=ast.Constant(value=2)):
                return operator.pow(of(node.left), 2)
            case ast.BinOp() if type(node.op) in _OPERATORS and not isinstance(node.op, ast.Pow):
                return _OPERATORS[type(node.op)](of(node.left), of(node.right))
            case ast.Call(func=ast.Name(id=name), keywords=[]) if name in functions:
                return functions[name](*(of(argument) for argument in node.args))
            case ast.Name(id=name) if name in names:
                return names[name]
            case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
                return number
        raise ValueError(f"'{formula}' is not in the little language: {ast.dump(node)}")

    return of(ast.parse(text, mode="eval").body)


def with_numbers(worked: Worked) -> float:
    values = {i.symbol: i.value for i in worked.inputs}
    return evaluate(worked.formula, values, IN_FLOATS, 1.0)


_KIND_OF_UNIT = {kind.unit: kind for kind in KINDS}


def with_units(formula: str, inputs: tuple[Input, ...]) -> object:
    values = {
        i.symbol: registry.Quantity(
            i.value, "" if i.unit == COUNT else _KIND_OF_UNIT[i.unit].pint_unit
        )
        for i in inputs
    }
    return evaluate(formula, values, IN_UNITS, registry.Quantity(1.0, "hour"))


def in_words(worked: Worked) -> bool:
    return worked.formula.startswith(("solve", "read", "integral"))


def every(thing: object) -> Iterator[Worked]:
    """Yield every explained number within a noun, whatever holds it."""
    if isinstance(thing, Worked):
        yield thing
    if attrs.has(type(thing)):
        for field in attrs.fields(type(thing)):
            yield from every(getattr(thing, field.name))
    elif isinstance(thing, dict):
        for inner in thing.values():
            yield from every(inner)
    elif isinstance(thing, tuple | list):
        for inner in thing:
            yield from every(inner)


def explained(build: Build) -> list[Worked]:
    """Return every explained number that a build leads to, those between the steps included."""
    made = design(build)
    between = [
        *every(demand(build)),
        *(inverter_current(inverter) for inverter in build.inverters),
        charge_current_allowed(build, made.figures),
        *(charge_current_part(build, charger, made.figures) for charger in build.all_chargers),
    ]
    # As if it were a go, so that the bounds of its commissioning are explained too.
    go = Decision(verdict=Verdict.WORKS, design=made, held_by=(), limits=())
    between += every(plan_of(go).steps)
    return [*every(made), *(worked for worked in between if worked is not None)]


def said(worked: Worked) -> str:
    inputs = ", ".join(f"{i.symbol} = {i.value!r} {i.unit}" for i in worked.inputs)
    return f"{worked.name}: {worked.formula} with {inputs} against {worked.value!r} {worked.unit}"


def check(worked: Worked) -> None:
    """Check one explained number: what it says is what it is."""
    symbols, given_ = SYMBOL.findall(worked.formula), [i.symbol for i in worked.inputs]
    assert set(symbols) == set(given_), f"symbols and inputs differ: {said(worked)}"
    assert len(set(given_)) == len(given_), f"a symbol has two inputs: {said(worked)}"
    assert math.isfinite(worked.value), said(worked)
    assert str(worked) in worked.numbers, said(worked)
    assert not re.search(r"[{}]|nan", worked.numbers), said(worked)
    assert worked.source in sources(), said(worked)
    assert worked.name, said(worked)
    for one in worked.inputs:
        assert one.means, said(worked)
        assert one.unit == COUNT or one.unit in _KIND_OF_UNIT, said(worked)
    if in_words(worked):
        assert worked.name in TOLD_IN_WORDS, f"told in words: {said(worked)}"
        return
    assert with_numbers(worked) == pytest.approx(worked.value, rel=1e-9, abs=1e-12), said(worked)
    check_units(worked.formula, worked.inputs, worked.kind)


_AGREE: set[object] = set()  # pint is slow: formulas whose units were found to agree


def check_units(formula: str, inputs: tuple[Input, ...], kind: Kind) -> None:
    case = (formula, kind.unit, tuple((i.symbol, i.unit) for i in inputs))
    if case not in _AGREE:
        got = registry.Quantity(with_units(formula, inputs))
        assert got.check(kind.pint_unit.dimensionality), f"{formula} gives no {kind.name}"
        _AGREE.add(case)


# The builds.

WIRE = Conductor(
    size="2/0 AWG",
    area=67.4,
    ohm_per_metre=0.00032,
    ampacity=175.0,
    resistance_source="nec-ch9-t8",
    ampacity_source="nec-310.16",
    conditions="75 °C column, 30 °C ambient",
)
MEAGRE = attrs.evolve(WIRE, ampacity=98.0, plain=98.0)  # no standard size
CELLS = Module(
    name="Seven-cell module",
    chemistry=chemistry("nmc-lmo"),
    cells_in_series=7,
    capacity="66 Ah",
    resistance="9.1 mOhm",
    resistance_method="10 s pulse",
    discharge_limit="66 A",
    discharge_peak="130 A",
    charge_limit="20 A",
)
INVERTER = Inverter(
    name="inverter",
    continuous="3 kW",
    surge="6 kW",
    surge_time="5 s",
    efficiency="92 %",
    idle="30 W",
    window_low="42 V",
    window_high="60 V",
    restart="none",
    cut_off=("42 V", "50 V", "0.1 V"),
    changeover=("44 V", "54 V", "0.1 V"),
    return_to_battery=("46 V", "58 V", "0.1 V"),
)
CHARGER = Charger(
    name="charger",
    source="solar",
    charge_voltage=("48 V", "62 V", "0.1 V"),
    current="40 A",
    current_setting=("5 A", "40 A", "1 A"),
    float_can_be_off=False,
    float_setting=("48 V", "62 V", "0.1 V"),
    compensation_can_be_off=True,
    equalise_can_be_off=True,
)
MAINS = attrs.evolve(
    CHARGER, name="mains charger", source="mains", current="60 A", current_setting=NOT_FITTED
)
USUAL = Build(
    title="usual",
    pack=Pack(
        module=CELLS,
        modules_in_series=2,
        strings=4,
        monitoring=Monitoring(every_cell=True),
        spread_full="25 mV",
    ),
    inverters=INVERTER,
    chargers=(CHARGER, MAINS),
    load=Load(continuous="1.5 kW", typical="500 W", peak="3 kW"),
    site=Site(coldest="2 degC", warmest="30 degC"),
    cabling=Cabling(
        module_lead=Run(name="lead", conductor=WIRE, length="1 m"),
        main=Run(name="main", conductor=WIRE, length="2 m"),
    ),
)


def changed(what: object, **fields: object) -> Build:
    """Return the usual build with a noun changed: named by its class."""
    if what is Module:
        return changed(Pack, module=attrs.evolve(CELLS, **fields))
    if what is Inverter:
        return attrs.evolve(USUAL, inverters=attrs.evolve(INVERTER, **fields))
    if what is Charger:
        return attrs.evolve(USUAL, chargers=(attrs.evolve(CHARGER, **fields), MAINS))
    name = {Pack: "pack", Policy: "policy", Site: "site", Load: "load", Cabling: "cabling"}[what]
    return attrs.evolve(USUAL, **{name: attrs.evolve(getattr(USUAL, name), **fields)})


BUILDS = {
    "usual": USUAL,
    "one string": changed(Pack, strings=1),
    "two strings": changed(Pack, strings=2),
    "three strings": changed(Pack, strings=3),
    "measured spread below the guard": changed(Pack, spread_full="5 mV"),
    "links stated": changed(Module, link_limit="150 A"),
    "makers' tighter limits": changed(Module, cell_highest="4.15 V", cell_least="3.2 V"),
    "resistance unknown": changed(Module, resistance=None),
    "limits unknown": changed(Module, discharge_limit=None, discharge_peak=None, charge_limit=None),
    "iron phosphate": attrs.evolve(
        USUAL,
        pack=Pack(
            module=attrs.evolve(CELLS, chemistry=chemistry("lfp"), cells_in_series=4),
            modules_in_series=4,
            strings=3,
        ),
    ),
    "titanate": attrs.evolve(
        USUAL,
        pack=Pack(
            module=attrs.evolve(CELLS, chemistry=chemistry("lto"), cells_in_series=11),
            modules_in_series=2,
            strings=3,
        ),
    ),
    "refused chemistry": attrs.evolve(
        USUAL,
        pack=Pack(
            module=attrs.evolve(CELLS, chemistry=chemistry("nimh"), cells_in_series=40),
            modules_in_series=1,
        ),
    ),
    "profile left on": changed(
        Charger,
        left_on=LeadAcidProfile(
            name="flooded",
            absorption="57.6 V",
            float_voltage="54 V",
            equalise="62 V",
            compensation="0.12 V/K",
            reference="25 degC",
            low_cut_off="42 V",
        ),
    ),
    "charger starts above its part": changed(Charger, current_setting=("30 A", "40 A", "1 A")),
    "float can be off": changed(Charger, float_can_be_off=True),
    "charge target chosen": changed(Policy, charge_target="4.1 V", basis="chosen"),
    "charger ends below": changed(Charger, charge_voltage=("48 V", "55 V", "0.5 V")),
    "charger ends below the cut-off": changed(Charger, charge_voltage=("40 V", "44 V", "0.5 V")),
    "charger starts above": changed(Charger, charge_voltage=("60 V", "66 V", "0.5 V")),
    "a small charger beside a big one": attrs.evolve(
        USUAL,
        chargers=(
            attrs.evolve(CHARGER, current="100 A", current_setting=("5 A", "100 A", "1 A")),
            attrs.evolve(MAINS, current="6 A", current_setting=("5 A", "6 A", "1 A")),
        ),
    ),
    "an inverter that stands less than the cut": changed(Inverter, window_high="57.8 V"),
    "leads unlike": changed(
        Cabling, module_lead=Run(name="lead", conductor=WIRE, length="3 m", shortest="1 m")
    ),
    "cold cells": changed(Site, coldest="-20 degC"),
    "coarse charger": changed(Charger, charge_voltage=("48 V", "63 V", "0.75 V")),
    "float alone": changed(Charger, float_setting=("56 V", "62 V", "0.1 V")),
    "float ends below": changed(Charger, float_setting=("40 V", "50 V", "0.1 V")),
    "cut-off starts above": changed(Inverter, cut_off=("49 V", "50 V", "0.5 V")),
    "window and cut-off start above": changed(
        Inverter, cut_off=("49 V", "50 V", "0.5 V"), window_low="48 V"
    ),
    "cut-off fixed": changed(Inverter, cut_off="none", window_low="47 V"),
    "window starts above the cut-off": changed(Inverter, window_low="48 V"),
    "changeover near the cut-off": changed(Policy, reserve="0 %"),
    "changeover starts above": changed(Inverter, changeover=("53 V", "54 V", "0.1 V")),
    "changeover ends below": changed(Inverter, changeover=("44 V", "49 V", "0.1 V")),
    "return starts above": changed(Inverter, return_to_battery=("55 V", "58 V", "0.1 V")),
    "return cut short": changed(Policy, reserve="70 %", return_rise="30 %"),
    "high reserve": changed(Policy, reserve="50 %"),
    "several units": changed(Inverter, count=3, charger=attrs.evolve(MAINS, name="built in")),
    "two inverters": attrs.evolve(
        USUAL,
        inverters=(
            INVERTER,
            attrs.evolve(INVERTER, name="other", continuous="1 kW", window_low="40 V"),
        ),
    ),
    "devices' own errors": attrs.evolve(
        changed(Inverter, meter_accuracy="0.5 %"),
        chargers=attrs.evolve(CHARGER, accuracy="0.3 %"),
    ),
    "surge for peak": changed(Load, peak=None, typical=None),
    "nothing to switch": changed(Inverter, changeover="none", return_to_battery="none"),
    "no chargers": attrs.evolve(USUAL, chargers=()),
    "no cables": attrs.evolve(USUAL, cabling=Cabling()),
    "parallel cables": changed(
        Cabling, main=Run(name="main", conductor=WIRE, length="2 m", parallel=2)
    ),
    "iec": changed(Site, rules="iec"),
    "too much load": changed(Load, continuous="40 kW", peak="60 kW"),
    "too much even of the usual load": changed(
        Load, continuous="90 kW", typical="90 kW", peak="95 kW"
    ),
    "a build of which all is known": good_build(),
    "the same by IEC": good_build(site=good_site(rules="iec")),
    "with a solar array": solar_build(),
    "two arrays at one input": solar_build(
        arrays=(good_array(name="a"), good_array(name="b", in_parallel=2))
    ),
    "a built-in charger of three units": good_build(
        inverters=(good_inverter(charger=good_charger(name="in it", count=3, current="60 A")),)
    ),
    "cables between modules": good_build(
        cabling=good_cabling(link=Run(name="link", conductor=WIRE, length="0.3 m"))
    ),
    "leads laid in parallel, one shorter": good_build(
        cabling=good_cabling(
            main=Run(name="main", conductor=WIRE, length="2 m", shortest="1.5 m", parallel=2)
        )
    ),
    "the same parallel ones by IEC": good_build(
        site=good_site(rules="iec"),
        cabling=good_cabling(
            main=Run(name="main", conductor=WIRE, length="2 m", shortest="1.5 m", parallel=2),
            charger=Run(name="charger", conductor=WIRE, length="2 m", parallel=2),
        ),
    ),
    "leads unlike under a large load": good_build(
        cabling=good_cabling(
            module_lead=Run(name="lead", conductor=WIRE, length="3 m", shortest="1 m")
        )
    ),
    "a room whose warmth is known": with_safeguards(ambient="40 degC"),
    "breakers in the mains": with_safeguards(
        main_fuse=good_family(kind="breaker", instantaneous_trip="1.5 kA", clearing_time="20 ms")
    ),
    "strings with a fuse at both ends": with_safeguards(both_ends=True),
    "a fuse of the next size up": good_build(
        cabling=good_cabling(main=Run(name="main", conductor=MEAGRE, length="2 m"))
    ),
    "bars in pairs": good_build(cabling=good_cabling(bar=good_bar(count=2))),
    "bars open to the air": good_build(cabling=good_cabling(bar=good_bar(enclosed=False))),
    "without precharge": with_safeguards(precharge="none"),
    "precharge left to evpack": with_safeguards(precharge=None),
    "both poles": with_safeguards(both_poles=True),
    "two inverters alike": good_build(inverters=(good_inverter(count=2),)),
    "nothing known": attrs.evolve(
        USUAL, inverters=Inverter(name="some"), chargers=Charger(name="any", source="solar")
    ),
}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_every_explained_number_of_an_example(path: Path) -> None:
    found = explained(read_sheet(path))
    assert len(found) > 20
    for worked in found:
        check(worked)


@pytest.mark.parametrize("name", BUILDS)
def test_every_explained_number_of_a_build(name: str) -> None:
    found = explained(BUILDS[name])
    assert len(found) >= 6, "the pack's own figures are always known"
    for worked in found:
        check(worked)


def test_the_builds_reach_every_form_of_every_formula() -> None:
    """Keep this list by hand: a formula that no build reaches is checked by nobody."""
    builds = [*(read_sheet(p) for p in EXAMPLES), *BUILDS.values()]
    reached = {(w.name.split(":")[0], w.formula) for b in builds for w in explained(b)}
    formulas = {formula for _, formula in reached}
    spoken = {name for name, formula in reached if formula.startswith(("read", "integral"))}
    assert spoken == TOLD_IN_WORDS, "each is told in words somewhere, and no other"
    for part in (
        "{I} / ({N} − 1)",
        "{I} / ({N} − 1) · {k}",
        "{N} · {I} / {k}",
        "down({n} · ({V_high} − {δ}) / (1 + {ε}), {from}, {step})",
        "down(min({n} · ({V_high} − {δ}) / (1 + {ε}), {most}), {from}, {step})",
        "up({n} · ({V_warn} + {δ}) · (1 + {ε}), {from}, {step})",
        "up(max({n} · ({V_warn} + {δ}) · (1 + {ε}), {from}), {from}, {step})",
        "up(({E} + √({E}^2 − 4 · {R} · {P})) / 2, {from}, {step})",
        "up({V_cut} + {n} · {gap}, {from}, {step})",
        "{n} · {V_max} / (({k_low} · {R_src} + {R_lead}) / {N_f})",
        "{n} · {V_min} / (({k_high} · {R_src} + {R_lead}) / {N_f} + {R_path})",
        "min({I_own}, {I_pack} · {I_own} / {I_all})",
        "min({I_modules}, {Q} · {k_rate} / 1 h)",
        "down(min({I_part}, {most}), {from}, {step})",
        "down(min({I_part}, {k_cold} · {Q} · {k_own} / 1 h, {most}), {from}, {step})",
        "{Q} · max({k_tail} / {N_ch}, {k_min}) / 1 h",
        "min({I_end}, {I_own} · {k_end})",
        "min({I_own}, {I_least})",
        "min({I_own}, ({I_pack} − {I_held}) · {I_own} / {I_all})",
        "down({V_charge} · (1 − {ε}) − {n} · {V_below}, {zero}, {tenth})",
        "min({V_chem}, {V_max} − ({V_limit} − {V_chem}), {V_inv})",
        "down(min({I_mod}, {I_lead}, {I_link}, {I_fuse}), {zero}, {whole})",
        "down(min({I_mod}, {I_lead}, {I_fuse}), {zero}, {whole})",
        "down({I_mod}, {zero}, {whole})",
        (
            "{N_on} / (1 + ({N_on} − 1) · ({k_low} · {R_str} + {R_short}) / "
            "({k_low} · {R_str} + {R_long}))"
        ),
        "{I_even} · {k} · {k_lead}",
        "{I} / ({N} − 1) · {k} · {k_lead}",
        "{N} · {I} / ({k} · {k_lead})",
        "{Q} · ({s_top} − {s_bottom})",
        "up({N_ch} · {I_end} / ({Q_in} / 1 h) + {k_more}, {zero}, {whole})",
        "up(max({n} · ({V_warn} + {δ}) · (1 + {ε}), {V_low}), {from}, {step})",
        "up(max(max({n} · ({V_warn} + {δ}) · (1 + {ε}), {V_low}), {from}), {from}, {step})",
        "max(down(min({n} · {V_float} / (1 + {ε}), {V_charge}, {most}), {from}, {step}), {from})",
        "min({V_chem}, {V_max} − ({V_limit} − {V_chem}))",
        "max({V_chem}, {V_min} + min({V_chem} − {V_limit}, {gap}))",
        "min({V_chem}, {V_cut} − {gap})",
        "max({V_chem}, {V_cut} + {gap})",
        "min({I_lead} · {k_2}, {I_link})",
        "{I_main} · {k_2}",
        "{P} / {V_low}",
        "min({I_lead}, {I_joint}, {I_link})",
        "{l} · {len} / ({n} · {V_max} / {I})",
        "{I} · {P_surge} / {P}",
        "{I} / {N}",
        "{I_sc} · {N_o} · {k_s}",
        "({I_sc} · {N_o} + {I_oth}) · {k_s}",
        "{I_oth} · {k_s}",
        "max({I}, {I_back})",
        "{N_u} · {I_most}",
        "{I_all} / {N}",
        "{I_all} / {N} · {k_lead}",
        "{I_even} · {k_lead}",
        "{I} · {k}",
        "{I} · {k_c}",
        "{I} · {k_c} / {k_t}",
        "{I} · {k_c} · {k_r} / {k_t}",
        "{I_sc} · {k}",
        "{I_sc} · {k} / {k_t}",
        "min({I_cable}, {I_panel})",
        "min({I_t}, {k_c} · {I_z})",
        "{I_1}",
        "{I_1} · {p}",
        "{I_1} · (1 + ({p} − 1) · {l_s} / {l})",
        "{N_o} · {I_n}",
        "{I_z} · {k_2}",
        "{I_z} · {k_tap}",
        "({N_o})^2 · ({I_m})^2 · {t}",
        "({N_o})^2 · max(({I_m})^2 · {t}, {Q})",
        "max(({I_m})^2 · {t}, {Q})",
        "{n} · {V_min} / (({k_cold} · {R_src} + {R_lead}) / {N_f} + {R_path})",
        "10 · {R} · {C} · {N_u}",
    ):
        assert part in formulas, f"no build reaches {part}"


cells = st.sampled_from(["nmc-lmo", "nmc", "nca", "lmo", "lfp", "lto"])
shares = st.integers(0, 100)


@st.composite
def builds(draw: st.DrawFn) -> Build:
    """Draw a build somewhere near what can be built, and well off it."""

    def quantity(least: int, most: int, unit: str) -> str:
        return f"{draw(st.integers(least, most))} {unit}"

    def span(low: tuple[int, int], steps: int, step: float) -> tuple[str, str, str]:
        first = draw(st.integers(*low))
        number = draw(st.integers(1, steps))
        return (f"{first} V", f"{first + number * step:.6g} V", f"{step} V")

    module = attrs.evolve(
        CELLS,
        chemistry=chemistry(draw(cells)),
        cells_in_series=draw(st.integers(2, 12)),
        capacity=quantity(10, 300, "Ah"),
        resistance=quantity(1, 40, "mOhm"),
        discharge_limit=quantity(10, 300, "A"),
        charge_limit=quantity(5, 100, "A"),
        link_limit=draw(st.none() | st.just("120 A")),
    )
    step = draw(st.sampled_from([0.05, 0.1, 0.125, 0.25, 0.5]))
    inverter = attrs.evolve(
        INVERTER,
        count=draw(st.integers(1, 3)),
        continuous=quantity(300, 6000, "W"),
        surge=draw(st.none() | st.just("9 kW")),
        efficiency=quantity(80, 99, "%"),
        idle=quantity(0, 100, "W"),
        cut_off=draw(st.just("none") | st.just(span((36, 46), 100, step))),
        changeover=span((40, 50), 100, step),
        return_to_battery=span((40, 54), 100, step),
        meter_accuracy=draw(st.none() | st.just("0.5 %")),
    )
    charger = attrs.evolve(
        CHARGER,
        charge_voltage=span((36, 56), 200, step),
        accuracy=draw(st.none() | st.just("0.4 %")),
        current=quantity(1, 100, "A"),
        current_setting=draw(st.just("none") | st.just(("2 A", "50 A", "0.5 A"))),
        float_can_be_off=draw(st.booleans()),
        float_setting=span((36, 56), 200, step),
    )
    continuous = draw(st.integers(100, 4000))
    return attrs.evolve(
        USUAL,
        pack=Pack(
            module=module,
            modules_in_series=draw(st.integers(1, 5)),
            strings=draw(st.integers(1, 6)),
            spread_full=draw(st.none() | st.just("35 mV")),
        ),
        inverters=inverter,
        chargers=(charger, MAINS) if draw(st.booleans()) else (charger,),
        load=Load(
            continuous=f"{continuous} W",
            typical=f"{draw(st.integers(1, continuous))} W",
            peak=draw(st.none() | st.just("4 kW")),
        ),
        policy=Policy(
            reserve=f"{draw(st.integers(0, 95))} %",
            return_rise=f"{draw(st.integers(0, 90))} %",
            charge_rate=f"{draw(st.integers(1, 100))} %",
            sharing_imbalance=f"{draw(st.integers(100, 300))} %",
        ),
        site=Site(
            coldest=f"{draw(st.integers(-20, 20))} degC",
            warmest="30 degC",
            rules=draw(st.sampled_from(["nec", "iec"])),
        ),
    )


@given(builds())
def test_every_explained_number_of_any_build(build: Build) -> None:
    for worked in explained(build):
        check(worked)


# The checker itself: it must be able to fail.

HIGHEST = Worked(
    name="highest voltage",
    value=58.8,
    kind=VOLTAGE,
    formula="{n} · {V_max}",
    inputs=(
        count("n", "cells in series", 14),
        Input("V_max", "highest voltage of a cell", 4.2, "V", None),
    ),
    source="arithmetic",
)


def test_a_true_explanation_passes() -> None:
    check(HIGHEST)


@pytest.mark.parametrize(
    "wrong",
    [
        {"value": 58.81},
        {"value": math.nan},
        {"formula": "{n} · {V_max} / 2"},
        {"formula": "{n} + {V_max}"},
        {"formula": "14 · {V_max}"},
        {"formula": "{n} · {V_max} · {k}"},
        {"formula": "read: {n} · {V_max}"},
        {"kind": CURRENT},
        {"kind": POWER},
        {"source": "a-dream"},
        {"inputs": (*HIGHEST.inputs, HIGHEST.inputs[0])},
        {"inputs": (HIGHEST.inputs[0], attrs.evolve(HIGHEST.inputs[1], unit="furlong"))},
    ],
    ids=lambda w: next(iter(w)),
)
def test_a_false_explanation_is_caught(wrong: dict[str, object]) -> None:
    with pytest.raises(AssertionError):
        check(attrs.evolve(HIGHEST, **wrong))


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("({E} + √({E}^2 − 4 · {R} · {P})) / 2", 48.0),  # 50 V, 40 mΩ, 2400 W: 50 A
        ("down({E}, {R}, {s})", 49.84),  # 0.04 + 166 · 0.3
        ("up({E}, {R}, {s})", 50.14),
        ("min({E}, {P}) + max({R}, {s})", 50.3),
        ("{E} − {R} − {s}", 49.66),
        ("{P} / {E} / {E}", 0.96),
        ("{P} / {E} · {E}", 2400.0),
        ("{P} · {s} / 1 h", 720.0),
    ],
)
def test_the_little_language_worked_by_hand(formula: str, value: float) -> None:
    values = {"E": 50.0, "R": 0.04, "P": 2400.0, "s": 0.3}
    assert evaluate(formula, values, IN_FLOATS, 1.0) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    "formula",
    ["{E}^3", "{E} % 2", "abs({E})", "{E}.real", "{E} if {E} else 0", "True", "'x'", "[{E}]", "x9"],
)
def test_what_is_not_in_the_little_language_is_refused(formula: str) -> None:
    with pytest.raises(ValueError, match="not in the little language"):
        evaluate(formula, {"E": 50.0}, IN_FLOATS, 1.0)


@pytest.mark.parametrize(
    ("formula", "units", "kind"),
    [
        ("{Q} · {k} / 1 h", {"Q": "Ah", "k": ""}, CURRENT),
        ("{V} · {Q}", {"V": "V", "Q": "Ah"}, ENERGY),
        ("{P} / {V} · {R}", {"P": "W", "V": "V", "R": "Ω"}, VOLTAGE),
        ("√({P} · {R})", {"P": "W", "R": "Ω"}, VOLTAGE),
        ("{N} · {Q}", {"N": COUNT, "Q": "Ah"}, CHARGE),
    ],
)
def test_units_that_agree(formula: str, units: dict[str, str], kind: Kind) -> None:
    check_units(formula, tuple(Input(s, "", 3.0, u, None) for s, u in units.items()), kind)


@pytest.mark.parametrize(
    ("formula", "units", "kind", "error"),
    [
        ("{Q} · {k}", {"Q": "Ah", "k": ""}, CURRENT, AssertionError),
        ("{V} + {I}", {"V": "V", "I": "A"}, VOLTAGE, ValueError),
        ("min({V}, {I})", {"V": "V", "I": "A"}, VOLTAGE, ValueError),
        ("up({V}, {V}, {I})", {"V": "V", "I": "A"}, VOLTAGE, ValueError),
        ("1 + {V}", {"V": "V"}, VOLTAGE, ValueError),
    ],
)
def test_units_that_do_not_agree(
    formula: str, units: dict[str, str], kind: Kind, error: type[Exception]
) -> None:
    with pytest.raises((error, TypeError)):
        check_units(formula, tuple(Input(s, "", 3.0, u, None) for s, u in units.items()), kind)


def test_the_walk_finds_what_is_nested() -> None:
    assert list(every({"a": (1, [HIGHEST]), "b": "text"})) == [HIGHEST]
    design_of_usual = design(USUAL)
    names = {worked.name for worked in every(design_of_usual)}
    assert {
        "capacity",
        "charge voltage (absorption)",
        "reachable share",
        "least main fuse",
    } <= names
    assert design_of_usual.of(Severity.OK)
