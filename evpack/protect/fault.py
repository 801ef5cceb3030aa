"""Prospective fault current as a band: what a fuse must interrupt, and what must clear it fast."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import CURRENT
from evpack.base.worked import Input, Worked, count, known
from evpack.kernels.fault import fault_current
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import FaultBand

# Runs are held at their resistance at 75 °C; at 20 °C copper has this part of it:
# 1 / (1 + 0.00393 · 55), IEC 60028's coefficient (from memory).
_COLD = 0.82


def string_ohms(ground: Groundwork) -> float | None:
    """Return the 10 s resistance of one string of modules, without lead [Ω]; None is unknown."""
    module = ground.build.pack.module
    if module.resistance is None:
        return None
    return float(module.resistance.m) * ground.build.pack.modules_in_series


def fault_bands(ground: Groundwork) -> tuple[FaultBand, ...]:
    """Return the bands at a string's own terminals, at the bus, and at the inverter's terminals.

    The high end takes full cells, the lowest credible resistance, and of the cables only the
    module leads that the current must pass, cold. The low end takes cells at their least, aged,
    cold cells, and every cable warm.
    """
    strings = ground.build.pack.strings
    lead, main = ground.build.cabling.module_lead, ground.build.cabling.main
    lead_ohms = None if lead is None else float(lead.resistance.m)
    main_ohms = None if main is None else float(main.resistance.m)
    bands = [_band(ground, "string, at its own terminals", 1, lead_ohms=0.0, path_ohms=0.0)]
    if strings > 1:
        bands.append(
            _band(
                ground,
                "one string, fed by the others",
                strings - 1,
                lead_ohms=lead_ohms,
                path_ohms=lead_ohms,
            )
        )
    bands += [
        _band(ground, "bus, all strings", strings, lead_ohms=lead_ohms, path_ohms=0.0),
        _band(
            ground,
            "inverter's terminals, all strings",
            strings,
            lead_ohms=lead_ohms,
            path_ohms=main_ohms,
        ),
    ]
    return tuple(bands)


def _band(
    ground: Groundwork,
    place: str,
    strings: int,
    *,
    lead_ohms: float | None,
    path_ohms: float | None,
) -> FaultBand:
    own = string_ohms(ground)
    if own is None:
        return FaultBand(place=place, low=None, high=None)
    pack = ground.build.pack
    basis = pack.module.basis.of("resistance")
    feeding = count("N_f", "strings that feed the fault", strings)
    ohms = Input("R_str", "10 s resistance of a string", own, "Ω", basis)
    ohmic, weak = ground.guard("k_low", "ohmic_part"), ground.guard("k_high", "weak_part")
    full = known(
        "V_max",
        "highest voltage of a cell",
        pack.module.highest,
        pack.module.limit_basis("highest"),
    )
    cold_lead = (lead_ohms or 0.0) * _COLD
    high = Worked(
        name=f"highest fault current: {place}",
        value=fault_current(pack.highest.m, own * ohmic.value + cold_lead, 0.0, strings),
        kind=CURRENT,
        formula="{n} · {V_max} / (({k_low} · {R_str} + {R_lead}) / {N_f})",
        inputs=(
            ground.cells(),
            full,
            ohmic,
            ohms,
            Input("R_lead", "module lead, both ways, cold", cold_lead, "Ω", Basis.COMPUTED),
            feeding,
        ),
        source="common-practice",
    )
    if lead_ohms is None or path_ohms is None:
        return FaultBand(place=place, low=None, high=high)
    least = known(
        "V_min", "least voltage of a cell", pack.module.least, pack.module.limit_basis("least")
    )
    low = Worked(
        name=f"lowest fault current: {place}",
        value=fault_current(pack.least.m, own * weak.value + lead_ohms, path_ohms, strings),
        kind=CURRENT,
        formula="{n} · {V_min} / (({k_high} · {R_str} + {R_lead}) / {N_f} + {R_path})",
        inputs=(
            ground.cells(),
            least,
            weak,
            ohms,
            Input("R_lead", "module lead, both ways", lead_ohms, "Ω", Basis.COMPUTED),
            feeding,
            Input("R_path", "common path, both ways", path_ohms, "Ω", Basis.COMPUTED),
        ),
        source="common-practice",
    )
    return FaultBand(place=place, low=low, high=high)
