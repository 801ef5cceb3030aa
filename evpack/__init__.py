"""Design workbooks for giving salvaged EV battery modules a second life, safely.

Everything a user needs is reachable from here and loads on first use, so that ``import evpack``
stays cheap.
"""

import lazy_loader as lazy

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy.attach(
    __name__,
    submodules=[],
    submod_attrs={
        "base.basis": ["Basis"],
        "base.errors": ["DataError", "DescriptionError", "EvpackError", "UnitError"],
        "base.finding": ["Severity"],
        "base.fitted": ["NOT_FITTED"],
        "describe.build": ["Build"],
        "describe.cabling": ["Cabling", "Run"],
        "describe.charger": ["Charger", "LeadAcidProfile"],
        "describe.inverter": ["Inverter"],
        "describe.module": ["Module"],
        "describe.pack": ["Monitoring", "Pack"],
        "describe.policy": ["Policy"],
        "describe.site": ["Load", "Site"],
        "load.bench_record": ["read_bench_record"],
        "load.library": ["chemistry", "library"],
        "load.sheet": ["read_sheet"],
        "load.tables": ["conductor"],
        "design": ["design"],
        "decide": ["decide"],
    },
)
