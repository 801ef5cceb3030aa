"""Searches as plain data, for JSON."""

from __future__ import annotations

from typing import Any

from evpack.outcome.search import Candidate, Grown, Held, Ranking, TradeOff, Way, WaysOut
from evpack.show.record_values import number_record, quantity_record


def ranking_record(ranking: Ranking) -> dict[str, Any]:
    """Return a ranking: ``title``, ``asked``, ``note``, ``candidates``."""
    return {
        "title": ranking.title,
        "asked": ranking.asked,
        "note": ranking.note,
        "money": ranking.money,
        "candidates": [candidate_record(candidate) for candidate in ranking.candidates],
    }


def candidate_record(candidate: Candidate) -> dict[str, Any]:
    """Return a candidate with what holds it up."""
    return {
        "name": candidate.name,
        "changes": [{"place": c.place, "says": c.says} for c in candidate.changes],
        "verdict": candidate.verdict.value,
        "held_by": [_held(held) for held in candidate.held_by],
        "limits": candidate.limits,
        "usable": quantity_record(candidate.usable, "Wh"),
        "everyday": quantity_record(candidate.everyday, "Wh"),
        "usable_ac": quantity_record(candidate.usable_ac, "Wh"),
        "everyday_ac": quantity_record(candidate.everyday_ac, "Wh"),
        "rough": candidate.rough,
        "margin": quantity_record(candidate.margin, ""),
        "margin_of": candidate.margin_of,
        "modules": candidate.modules,
        "left_out": candidate.left_out,
        "stranded": quantity_record(candidate.stranded, "Wh"),
        "stranded_worth": number_record(candidate.stranded_worth),
        "price": number_record(candidate.price),
        "cost": number_record(candidate.cost),
        "life": _life(candidate),
    }


def _life(candidate: Candidate) -> dict[str, Any] | None:
    """Return the years as they are told, already rounded down."""
    if candidate.life is None:
        return None
    least, most = candidate.life
    return {"least": number_record(least), "most": number_record(most), "unit": "years"}


def _held(held: Held) -> dict[str, Any]:
    return {
        "rule": held.rule,
        "about": held.about,
        "detail": held.detail,
        "remedy": held.remedy,
        "stop": held.stop,
    }


def ways_record(found: WaysOut) -> dict[str, Any]:
    """Return ways out: ``now``, ``to_go``, ``nearest``, ``one_by_one``, ``tried``, ``note``."""
    return {
        "title": found.build.title,
        "now": candidate_record(found.now),
        "to_go": [_way(way) for way in found.to_go],
        "nearest": [_way(way) for way in found.nearest],
        "one_by_one": [
            {"held": _held(held), "ways": [_way(way) for way in ways]}
            for held, ways in found.one_by_one
        ],
        "tried": found.tried,
        "note": found.note,
    }


def _way(way: Way) -> dict[str, Any]:
    return {
        "says": way.says,
        "costs": quantity_record(way.costs, "Wh"),
        "costs_everyday": quantity_record(way.costs_everyday, "Wh"),
        "costs_ac": quantity_record(way.costs_ac, "Wh"),
        "costs_everyday_ac": quantity_record(way.costs_everyday_ac, "Wh"),
        "to_find_out": way.to_find_out,
        "clears": [_held(held) for held in way.clears],
        "candidate": candidate_record(way.candidate),
    }


def grown_record(grown: Grown) -> dict[str, Any]:
    """Return what stays valid when a pack grows."""
    return {
        "title": grown.build.title,
        "now": candidate_record(grown.now),
        "ways": [
            {
                "candidate": candidate_record(way.candidate),
                "held_up": list(way.new_limits),
                "outgrown": [
                    {
                        "what": part.what,
                        "now": quantity_record(part.now, part.unit),
                        "then": quantity_record(part.then, part.unit),
                        "swap": part.swap,
                    }
                    for part in way.outgrown
                ],
            }
            for way in grown.ways
        ],
    }


def trade_off_record(found: TradeOff) -> dict[str, Any]:
    """Return a trade-off: ``front`` and ``others``, and what they were held against."""
    return {
        "title": found.build.title,
        "weighed": found.weighed,
        "note": found.note,
        "money": found.money,
        "tried": found.tried,
        "front": [candidate_record(candidate) for candidate in found.front],
        "others": [candidate_record(candidate) for candidate in found.others],
    }
