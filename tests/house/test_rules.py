"""House: every rule is said once, in a sentence, under a key of its own, with a source on file."""

import ast
import importlib
import inspect
import pkgutil
import re
from collections import Counter
from types import ModuleType

import pytest

import evpack
from evpack.base.finding import Finding, Rule, Standing
from evpack.base.units import KINDS
from evpack.design import design
from evpack.load.places import data_dir
from evpack.load.sheet import read_sheet
from evpack.load.tables import sources

ROOMS = ("check", "setpoint", "protect", "match", "simulate")
EXAMPLES = sorted((data_dir() / "examples").glob("*.toml"))
# A rule's key starts with what it is about.
KEY = re.compile(r"[a-z]+(-[a-z]+)*\.[a-z]+(-[a-z]+)*")


def modules() -> list[ModuleType]:
    names = [
        f"evpack.{room}.{found.name}"
        for room in ROOMS
        for found in pkgutil.iter_modules(importlib.import_module(f"evpack.{room}").__path__)
    ]
    return [importlib.import_module(name) for name in names]


def own_rules(module: ModuleType) -> dict[str, Rule]:
    """Return the rules that a module makes, by their names; imported ones are another's."""
    made = {
        target.id
        for node in ast.parse(inspect.getsource(module)).body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    return {
        name: value
        for name, value in vars(module).items()
        if isinstance(value, Rule) and name in made
    }


HELD = [
    pytest.param(module, name, rule, id=rule.key)
    for module in modules()
    for name, rule in own_rules(module).items()
]
RULES: list[Rule] = [held.values[2] for held in HELD]


def findings() -> list[Finding]:
    return [found for path in EXAMPLES for found in design(read_sheet(path)).findings]


def test_there_are_rules_in_every_room() -> None:
    rooms = {held.values[0].__name__.split(".")[1] for held in HELD}
    assert rooms == set(ROOMS)
    assert len(RULES) > 40


def test_every_key_belongs_to_one_rule() -> None:
    twice = [key for key, times in Counter(rule.key for rule in RULES).items() if times > 1]
    assert not twice


@pytest.mark.parametrize(("module", "name", "rule"), HELD)
def test_a_key_says_room_and_name(module: ModuleType, name: str, rule: Rule) -> None:
    assert KEY.fullmatch(rule.key), rule.key
    assert name.isupper(), f"{module.__name__}.{name} is a constant"


@pytest.mark.parametrize(("module", "name", "rule"), HELD)
def test_every_source_is_on_file(module: ModuleType, name: str, rule: Rule) -> None:
    assert rule.source in sources(), f"{module.__name__}.{name}"


@pytest.mark.parametrize(("module", "name", "rule"), HELD)
def test_a_rule_is_said_in_a_sentence(module: ModuleType, name: str, rule: Rule) -> None:
    assert re.fullmatch(r"[A-Z0-9].{20,}\.", rule.says), f"{module.__name__}.{name}: {rule.says}"
    assert "  " not in rule.says
    assert "{" not in rule.says


@pytest.mark.parametrize(("module", "name", "rule"), HELD)
def test_a_rule_compares_a_known_kind_or_nothing(module: ModuleType, name: str, rule: Rule) -> None:
    assert rule.kind is None or rule.kind in KINDS, f"{module.__name__}.{name}"


@pytest.mark.parametrize(("module", "name", "rule"), HELD)
def test_a_bound_says_where_it_stands(module: ModuleType, name: str, rule: Rule) -> None:
    """Physics, a print or a clause; what is no bound has none to name."""
    assert bool(rule.clause) == (rule.stands is Standing.BOUND), f"{module.__name__}.{name}"


def test_no_two_rules_say_the_same() -> None:
    twice = [says for says, times in Counter(rule.says for rule in RULES).items() if times > 1]
    assert not twice


@pytest.mark.parametrize("module", modules(), ids=lambda m: m.__name__)
def test_rules_are_made_at_the_top_of_their_module_and_nowhere_else(module: ModuleType) -> None:
    calls = [
        node
        for node in ast.walk(ast.parse(inspect.getsource(module)))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Rule"
    ]
    assert len(calls) == len(own_rules(module))


def test_no_module_outside_the_rooms_makes_a_rule() -> None:
    """The class itself, and what builds rules for pages, import it; nobody else makes one."""
    for found in pkgutil.walk_packages(evpack.__path__, "evpack."):
        path = importlib.util.find_spec(found.name).origin
        if found.name.split(".")[1] in ROOMS or path is None:
            continue
        with open(path, encoding="utf-8") as file:  # noqa: PTH123  one read, no path arithmetic
            tree = ast.parse(file.read())
        made = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and "Rule" in ast.dump(n.func)]
        assert not made, found.name


def test_every_finding_of_the_examples_is_of_a_rule_held() -> None:
    held = {id(rule) for rule in RULES}
    found = findings()
    assert len(found) > 100
    for finding in found:
        assert id(finding.rule) in held, finding.rule.key


def test_every_finding_of_the_examples_says_what_it_is_about() -> None:
    for finding in findings():
        assert finding.about, finding.rule.key
        assert re.fullmatch(r".{10,}[.?]", finding.detail), finding.detail
        assert not re.search(r"\{|\bnan\b|\binf\b|None", finding.detail), finding.detail


def test_whatever_holds_a_design_up_says_what_would_clear_it() -> None:
    holding = [finding for finding in findings() if finding.holds]
    assert holding
    for finding in holding:
        assert finding.remedy, f"{finding.rule.key}: {finding.detail}"
