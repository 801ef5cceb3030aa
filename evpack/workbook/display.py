"""How the nouns show themselves in a notebook, without the nouns knowing of it; refusals as well.

IPython lets a formatter be registered under the *name* of a class: nothing is imported before
such an object is shown for the first time, so that ``import evpack`` stays cheap.
"""

from __future__ import annotations

from typing import Any

from evpack.base.errors import EvpackError

# Every noun that has a look of its own: the classes of each module that `show` can tell.
NOUNS = {
    "base.finding": ("Finding",),
    "base.source": ("Source",),
    "base.worked": ("Worked",),
    "describe.ageing_model": ("AgeingModel",),
    "describe.array": ("Array",),
    "describe.batch": ("Batch", "Measure", "Rest", "TestedModule"),
    "describe.build": ("Build",),
    "describe.cabling": ("Busbar", "Cabling", "Conductor", "Run"),
    "describe.charger": ("Charger", "LeadAcidProfile"),
    "describe.chemistry": ("Chemistry",),
    "describe.inverter": ("Inverter",),
    "describe.module": ("Module",),
    "describe.operation": ("Operation", "Outage", "PricedHours", "Profile", "Sun", "Tariff"),
    "describe.pack": ("Monitoring", "Pack"),
    "describe.policy": ("Policy",),
    "describe.safeguards": ("Disconnect", "EmergencyOff", "FuseFamily", "Precharge", "Safeguards"),
    "describe.scatter": ("Scatter",),
    "describe.site": ("Load", "Site"),
    "outcome.ageing": ("Ageing", "Cycles", "ModelAgeing"),
    "outcome.bench": ("BenchReading", "GroupsSeen", "ModuleReading"),
    "outcome.commissioning": ("AsBuiltCheck", "CommissioningPlan"),
    "outcome.design": ("Decision", "Design", "SolarSide", "UsableWindow"),
    "outcome.draws": ("Draws",),
    "outcome.runs": (
        "FaultRun",
        "SettingsTrial",
        "SharedRun",
        "SharingCase",
        "SharingRun",
        "TrialRun",
    ),
    "outcome.groundwork": ("PackFigures", "Sharing"),
    "outcome.identified": ("IdentifiedCell",),
    "outcome.matching": (
        "Afterwards",
        "GradedModule",
        "Grouping",
        "JoinPlan",
        "JoinStep",
        "Matching",
    ),
    "outcome.operation": ("OperationRun", "OutageRun"),
    "outcome.pack_log": ("PackLog",),
    "outcome.protection": (
        "CableChoice",
        "CableTest",
        "Circuit",
        "FaultBand",
        "FuseChoice",
        "Need",
        "PartLine",
        "PrechargePlan",
        "ProtectionSchedule",
    ),
    "outcome.search": ("Grown", "Ranking", "TradeOff", "WaysOut"),
    "outcome.settings": ("DeviceSettings", "Setting", "SettingsSheet"),
}


def register(shell: Any) -> None:
    """Teach a running IPython shell how to show the nouns, and to tell a refusal in its words.

    Parameters
    ----------
    shell : IPython.core.interactiveshell.InteractiveShell
        Its display formatter gets one entry for each noun, for HTML and for plain text.
    """
    shell.set_custom_exc((EvpackError,), _refused)
    formatters = shell.display_formatter.formatters
    for module, names in NOUNS.items():
        for name in names:
            formatters["text/html"].for_type_by_name(f"evpack.{module}", name, _html)
            formatters["text/plain"].for_type_by_name(f"evpack.{module}", name, _text)


def _html(noun: object) -> str:
    # Every output brings the style, since each is shown, copied and cleared by itself.
    from evpack.show.html import as_html  # noqa: PLC0415  loads on the first object shown
    from evpack.workbook.regions import STYLE  # noqa: PLC0415

    return STYLE + as_html(noun)


def _text(noun: object, printer: Any, _cycle: bool) -> None:  # noqa: FBT001  IPython's signature
    from evpack.show.text import as_text  # noqa: PLC0415  loads on the first object shown

    printer.text(as_text(noun))


def _refused(
    shell: Any, kind: type, problem: BaseException, _trace: object, tb_offset: int | None = None
) -> list[str]:
    """Tell what was refused without the code that refused it: that helps nobody who typed it.

    It stays an error of its cell, so that nothing below runs; ``%tb`` shows the code.
    """
    del tb_offset
    told = [
        f"✕ {line}" if not k else f"  {line}" for k, line in enumerate(str(problem).split("\n"))
    ]
    shell._showtraceback(kind, problem, told)  # noqa: SLF001  the one way to show an error's text
    return told
