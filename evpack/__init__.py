"""Design workbooks for giving salvaged EV battery modules a second life, safely.

Everything a user needs is reachable from here and loads on first use, so that ``import evpack``
stays cheap.
"""

import sys

import lazy_loader as lazy

from evpack.base.version import VERSION

__version__ = VERSION

__getattr__, __dir__, __all__ = lazy.attach(
    __name__,
    submodules=[],
    submod_attrs={
        "base.basis": ["Basis"],
        "base.errors": ["DataError", "DescriptionError", "EvpackError", "UnitError"],
        "base.finding": ["Finding", "Severity"],
        "base.fitted": ["NOT_FITTED"],
        "base.worked": ["Worked"],
        "describe.array": ["Array"],
        "describe.batch": ["Batch", "Measure", "Rest", "TestedModule"],
        "describe.build": ["Build"],
        "describe.cabling": ["Busbar", "Cabling", "Conductor", "Run"],
        "describe.charger": ["Charger", "LeadAcidProfile"],
        "describe.chemistry": ["Chemistry"],
        "describe.equipment": ["EquipmentList"],
        "describe.inverter": ["Inverter"],
        "describe.module": ["Module"],
        "describe.operation": [
            "Operation",
            "Outage",
            "PricedHours",
            "Profile",
            "Sun",
            "Tariff",
            "daily",
            "hourly",
        ],
        "describe.pack": ["Monitoring", "Pack"],
        "describe.policy": ["Policy"],
        "describe.safeguards": [
            "Disconnect",
            "EmergencyOff",
            "FuseFamily",
            "Precharge",
            "Safeguards",
        ],
        "describe.scatter": ["Scatter"],
        "describe.site": ["Load", "Site"],
        "load.as_built": ["example_as_built"],
        "load.batch": ["example_batch", "read_batch"],
        "load.bench_cell": ["identify_cell"],
        "load.bench_record": ["read_bench_record"],
        "load.conductors": ["busbar", "conductor", "conductor_ladder"],
        "load.equipment_list": ["generic_equipment", "read_equipment"],
        "load.library": [
            "charger_entry",
            "chemistry",
            "example",
            "inverter_entry",
            "lead_acid_profile",
            "library",
            "module_entry",
        ],
        "load.pack_log": ["read_pack_log"],
        "load.places": ["data_dir"],
        "load.profiles": ["read_profile"],
        "load.sheet": ["read_sheet"],
        "design": ["design"],
        "decide": ["decide"],
        "finished": ["as_built_record", "check_as_built", "commissioning_plan", "compare_log"],
        "lifetime": ["ageing"],
        "matching": ["match_heap"],
        "search.arrangements": ["search_arrangements"],
        "search.equipment": ["search_equipment"],
        "search.growth": ["search_growth"],
        "search.tradeoff": ["search_trade_offs"],
        "search.sheet_out": ["sheet_for", "write_sheet"],
        "search.ways": ["find_ways"],
        "outcome.matching": ["Grade", "Matching"],
        "show.text": ["as_text"],
        "simulate.ageing_years": ["count_cycles"],
        "simulate.faults": ["simulate_fault"],
        "simulate.sharing": ["reckon_with", "simulate_sharing"],
        "simulate.operation": ["outage_runtimes", "simulate_operation"],
        "simulate.strings": ["StringScale"],
        "simulate.trial": ["try_settings"],
        "uncertain": ["draw_designs"],
        "workbook.page": ["sheet_in"],
        "workbook.paper": ["write_sheets"],
        "workbook.panel": ["Panel"],
        "workbook.share": ["share"],
        "workbook.starter": ["start_sheet"],
    },
)


def _show_in_notebooks() -> None:
    """Give the nouns their look where IPython runs; elsewhere there is nobody to look."""
    shell = sys.modules["IPython"].get_ipython()
    if shell is not None:
        from evpack.workbook.display import register  # noqa: PLC0415  only where IPython runs

        register(shell)


if "IPython" in sys.modules:
    _show_in_notebooks()
