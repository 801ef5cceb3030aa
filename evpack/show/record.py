"""A decision as plain data, for other programs: JSON with stable keys.

Every quantity is ``{"value": 56.8, "unit": "V"}``; what is not known or no finite number is null.
A share (a state of charge, say) has the unit ``""`` and runs from 0 to 1.
"""

from __future__ import annotations

from typing import Any

from evpack.base.finding import Finding
from evpack.base.version import VERSION
from evpack.outcome.design import Decision, Design, UsableWindow
from evpack.outcome.settings import DeviceSettings, Setting, SettingsSheet
from evpack.show.assumed import assumed_in
from evpack.show.record_protection import protection_record
from evpack.show.record_values import number_record, quantity_record, worked_record
from evpack.show.words import CAUTIONS

KEYS = ("verdict", "pack", "usable", "setpoints", "protection", "sharing", "findings", "about")


def decision_record(decision: Decision) -> dict[str, Any]:
    """Return a decision as a dict that `json.dumps` writes as it is.

    Returns
    -------
    dict
        With the keys of `KEYS`, in that order. `usable`, `setpoints`, `protection` and `sharing`
        are null where that part could not be worked out or does not apply. Of a device that is
        `withheld` nothing may be entered.
    """
    design = decision.design
    return {
        "verdict": decision.verdict.value,
        "pack": _pack(design),
        "usable": None if design.usable is None else _usable(design.usable),
        "setpoints": None
        if design.settings is None
        else [_device(device, design.settings) for device in design.settings.devices],
        "protection": None
        if design.protection is None
        else protection_record(design.protection, design.solar),
        "sharing": _sharing(design),
        "findings": [finding_record(finding) for finding in design.findings],
        "about": _about(design),
    }


def finding_record(finding: Finding) -> dict[str, Any]:
    """Return a finding; value, limit and margin are numbers in `unit`."""
    return {
        "rule": finding.rule.key,
        "severity": finding.severity.name.lower(),
        "value": number_record(finding.value),
        "limit": number_record(finding.limit),
        "margin": number_record(finding.margin),
        "unit": finding.unit,
        "says": finding.rule.says,
        "about": finding.about,
        "detail": finding.detail,
        "stands": str(finding.standing),
        "clause": finding.rule.clause,
        "guarded": number_record(finding.guarded),
        "source": finding.rule.source,
        "remedy": finding.remedy,
        "assumed": list(finding.assumed),
    }


def _pack(design: Design) -> dict[str, Any]:
    pack, figures = design.build.pack, design.figures
    record: dict[str, Any] = {
        "title": design.build.title,
        "module": pack.module.name,
        "chemistry": pack.module.chemistry.name,
        "modules_in_series": pack.modules_in_series,
        "strings": pack.strings,
        "modules": pack.modules,
        "cells_in_series": pack.cells_in_series,
    }
    for name in (
        "nominal",
        "least",
        "highest",
        "charge_target",
        "capacity",
        "label_energy",
        "resistance",
        "discharge_limit",
        "discharge_peak",
        "charge_limit",
    ):
        record[name] = None if figures is None else worked_record(getattr(figures, name))
    record["reachable"] = None if figures is None else list(figures.reachable)
    return record


def _usable(usable: UsableWindow) -> dict[str, Any]:
    record: dict[str, Any] = {
        name: quantity_record(getattr(usable, name), "")
        for name in ("soc_top", "soc_bottom", "soc_changeover", "soc_float")
    }
    record["float_by"] = usable.float_by
    record["bottom_by"] = usable.bottom_by
    record["load"] = quantity_record(usable.load, "W")
    record["load_ac"] = quantity_record(usable.load_ac, "W")
    for name in (
        "total",
        "reachable",
        "share",
        "everyday",
        "reserve",
        "stranded_above",
        "stranded_below",
        "lost_inside",
        "from_float",
        "reachable_ac",
        "everyday_ac",
        "reserve_ac",
        "from_float_ac",
    ):
        record[name] = worked_record(getattr(usable, name))
    record["between"] = {
        name: [quantity_record(end, "" if name == "share" else "Wh") for end in band]
        for name, band in usable.bands.items()
    }
    return record


def _device(device: DeviceSettings, sheet: SettingsSheet) -> dict[str, Any]:
    return {
        "device": device.device,
        "withheld": sheet.withheld,
        "lines": [_setting(line, withheld=sheet.withheld) for line in device.lines],
    }


def _setting(line: Setting, *, withheld: bool) -> dict[str, Any]:
    """Return a line; of a sheet that is withheld there is nothing to act on."""
    return {
        "key": line.name.name.lower().replace("_", "-"),
        "name": line.name.value,
        "act": "withheld" if withheld else line.act.value,
        "entry": line.entry,
        "quantity": worked_record(line.worked),
        "per_cell": quantity_record(line.per_cell, "V"),
        "soc_at_rest": quantity_record(line.soc_rest, ""),
        "soc_under_load": quantity_record(line.soc_loaded, ""),
        "offers": line.offers,
        "lost": line.lost,
        "why": "" if withheld else line.why,
        "where": line.where,
    }


def _sharing(design: Design) -> dict[str, Any] | None:
    sharing = design.sharing
    if sharing is None:
        return None
    return {
        "strings": sharing.strings,
        "total": worked_record(sharing.total),
        "even": worked_record(sharing.even),
        "worst": worked_record(sharing.worst),
        "one_out": worked_record(sharing.one_out),
        "method": sharing.method,
    }


def _about(design: Design) -> dict[str, Any]:
    """Return what a program that passes the numbers on must be able to pass on with them."""
    assumed = assumed_in(design)
    rows = [(row, True) for row in assumed.confirm] + [(row, False) for row in assumed.stand_in]
    return {
        "evpack": VERSION,
        "title": design.build.title,
        "invented": design.build.invented,
        "assumed": [
            {"of": row.of, "what": row.what, "taken": row.value, "confirm": confirm}
            for row, confirm in rows
        ],
        "caution": CAUTIONS[0],
    }
