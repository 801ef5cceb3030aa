"""Let the tests of showing import the decisions made up for them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import made_up
import pytest

from evpack.base.basis import Basis
from evpack.base.finding import Severity
from evpack.base.units import CHARGE, ENERGY, VOLTAGE
from evpack.describe.safeguards import FuseFamily
from evpack.load.tables import source
from evpack.outcome.bench import BenchReading

DECISION = made_up.decision(Severity.NOTE, Severity.CAUTION, Severity.UNKNOWN, Severity.STOP)
DESIGN = DECISION.design
BUILD = DESIGN.build
READING = BenchReading(
    name="record 1",
    source="arithmetic",
    capacity=CHARGE.of(33.1),
    energy=ENERGY.of(125.0),
    highest=VOLTAGE.of(4.18),
    least=VOLTAGE.of(3.0),
    temperature=None,
    rest_soc=[1.0, 0.5],
    rest_volts=[4.18, 3.95],
    pulse_soc=[],
    pulse_ohms=[],
    curve=None,
    estimated_below=0.06,
    charge_positive=True,
    current_sign="Positive current was taken as charging.",
    notes=("One discharge was read.",),
)
NOUNS = {
    "Module": BUILD.pack.module,
    "Pack": BUILD.pack,
    "Monitoring": BUILD.pack.monitoring,
    "Inverter": BUILD.inverters[0],
    "Charger": BUILD.chargers[0],
    "fixed Charger": BUILD.chargers[1],
    "LeadAcidProfile": made_up.PROFILE,
    "Chemistry": made_up.CHEMISTRY,
    "refused Chemistry": made_up.REFUSED,
    "Load": BUILD.load,
    "Site": BUILD.site,
    "Policy": BUILD.policy,
    "Run": BUILD.cabling.main,
    "Conductor": made_up.CONDUCTOR,
    "Cabling": BUILD.cabling,
    "no Cabling": made_up.bare().design.build.cabling,
    "FuseFamily": FuseFamily(
        key="x",
        name="Fast",
        standard="none",
        dc_voltage="125 V",
        interrupting="20 kA",
        largest="400 A",
        note="note",
        source="arithmetic",
        basis=Basis.ASSUMED,
    ),
    "Build": BUILD,
    "bare Build": made_up.bare().design.build,
    "BenchReading": READING,
    "ModuleReading": READING.for_module(cells_in_series=7, cells_in_parallel=2),
    "PackFigures": DESIGN.figures,
    "UsableWindow": DESIGN.usable,
    "SettingsSheet": DESIGN.settings,
    "DeviceSettings": DESIGN.settings.devices[0],
    "Setting": DESIGN.settings.devices[0].lines[0],
    "ProtectionSchedule": DESIGN.protection,
    "FuseChoice": DESIGN.protection.fuses[0],
    "FaultBand": DESIGN.protection.faults[0],
    "Circuit": DESIGN.protection.circuits[0],
    "unfused Circuit": DESIGN.protection.circuits[3],
    "CableChoice": DESIGN.protection.cables[0],
    "failing CableChoice": DESIGN.protection.cables[1],
    "unknown CableChoice": DESIGN.protection.cables[2],
    "CableTest": DESIGN.protection.cables[0].tests[0],
    "unknown CableTest": DESIGN.protection.cables[1].tests[1],
    "Need": DESIGN.protection.needs[0],
    "bare Need": DESIGN.protection.needs[1],
    "PrechargePlan": DESIGN.protection.precharge[0],
    "bare PrechargePlan": DESIGN.protection.precharge[1],
    "PartLine": DESIGN.protection.parts[0],
    "SolarSide": DESIGN.solar[0],
    "Sharing": DESIGN.sharing,
    "Worked": DESIGN.figures.highest,
    "Finding": DESIGN.findings[0],
    "Source": source("arithmetic"),
    "Design": DESIGN,
    "Decision": DECISION,
    "bare Decision": made_up.bare(),
}


@pytest.fixture(params=NOUNS.values(), ids=NOUNS.keys())
def noun(request: pytest.FixtureRequest) -> object:
    return request.param
