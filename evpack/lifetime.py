"""How long the cells last: the design's history held against the models of the library."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from evpack.base.errors import DescriptionError
from evpack.base.units import share, volts
from evpack.describe.checked import need
from evpack.design import design as design_of
from evpack.load.chemistries import ageing_models
from evpack.outcome.ageing import Ageing
from evpack.outcome.design import Design
from evpack.outcome.operation import OperationRun
from evpack.simulate.ageing import ageing_of, daily_years

END = "70 %"  # of today's capacity, at which cells count as spent; common practice, no source


def ageing(
    design: Design,
    *,
    run: OperationRun | None = None,
    soc: ArrayLike | None = None,
    temperature: ArrayLike | None = None,
    hours: ArrayLike | None = None,
    end: object = END,
    lower: object = None,
) -> Ageing:
    """Return how long the cells of a design last, as a range over published models.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    run : OperationRun, optional
        A simulated year, or another time, as `evpack.simulate_operation` returns it: its states of
        charge and temperatures are the history.
    soc, temperature, hours : array, shape (n,), optional
        A history of your own in place of it: states of charge [1], temperatures of the cells [°C],
        and when [h]. Either is taken to come back over and over. Without both, one cycle a day of
        all that the settings leave usable, between the site's coldest and warmest.
    end : quantity or text
        Share of today's capacity at which the cells are spent.
    lower : quantity or text, optional
        A lower charge target of a cell, to see what it buys; by default 50 mV lower. The build is
        designed anew with it.

    Returns
    -------
    Ageing
        With the years, what each model gives, findings, and what was assumed. Where no model fits
        the chemistry it says so, and tells no years.

    Raises
    ------
    DescriptionError
        A run that came to nothing, or a run and a history at once; what is no history.
    """
    need("ageing", design, Design)
    if run is not None:
        need("ageing", run, OperationRun)
        if any(given is not None for given in (soc, temperature, hours)):
            raise DescriptionError("ageing: give a run or a history of your own, not both")
        if run.outcome is None:
            raise DescriptionError("ageing: this run came to nothing; its findings say why")
        series = run.outcome.series
        soc, temperature, hours = np.clip(series.soc, 0.0, 1.0), series.celsius, series.time / 3600
    return ageing_of(
        design,
        ageing_models(),
        soc=soc,
        temperature=temperature,
        hours=hours,
        end=end,
        lower=None if lower is None else volts(lower),
        redesign=design_of,
    )


def years_of(design: Design) -> tuple[float, float] | None:
    """Return the least and most years that `ageing` tells of a design, and nothing else.

    Of the time that `ageing` takes, most goes into what a lower charge target would buy; a search
    that compares targets anyhow leaves that aside.

    Returns
    -------
    tuple of float or None
        [years], rounded down; None where no published model fits the chemistry, or nothing is
        usable.
    """
    return daily_years(design, ageing_models(), end=float(share(END).m))
