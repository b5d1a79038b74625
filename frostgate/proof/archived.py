"""Forecasts that were kept of past springs, laid out as the replay asks for them."""

from __future__ import annotations

import numpy as np

from frostgate.errors import InputError
from frostgate.proof.springs import Springs
from frostgate.seasons import SLOTS, split_dates
from frostgate.terms import Dates, Floats, Ints
from frostgate.terms.forecast_log import ForecastLog

_TO_NOON = np.timedelta64(12, "h")  # a forecast made after noon is the next morning's


def lay_out_kept(log: ForecastLog, springs: Springs, nights: int) -> Floats:
    """Give each morning the newest forecast made for it, from noon the day before to noon of its day.

    The replay weighs every forecast as fresh, so an older one is not taken: it would be thought surer than it
    is. A morning without one is unknown.

    Parameters
    ----------
    log
        Of one place; its forecasts are taken as those of the station.
    springs
        As `lay_out_springs` lays them out.
    nights
        How many nights of each forecast are wanted.

    Returns
    -------
    array of shape (springs, 366, nights)
        Forecast minima [°C] after each season day; NaN where there is none.

    Raises
    ------
    InputError
        Where the log holds several places.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> table = np.zeros((1, 366))
    >>> springs = Springs(years=np.array([2026]), last_frost=np.array([260.0]), tmin_c=table, usual_c=table,
    ...                   spread_c=table, risk=table, persistence=np.zeros(1), explained=np.zeros(1),
    ...                   threshold_c=0.0, step_c=0.1, start=NORTH)
    >>> log = ForecastLog(issued=["2026-04-10T06:00"] * 2, mornings=["2026-04-11", "2026-04-12"],
    ...                   forecast_c=[2.5, 3.5], observed_c=[np.nan] * 2)
    >>> lay_out_kept(log, springs, 3)[0, 252:254]  # 9 and 10 April
    array([[nan, nan, nan],
           [2.5, 3.5, nan]])
    """
    places = np.unique(log.place)
    if places.size > 1:
        raise InputError(
            "the log of forecasts holds several places",
            value=", ".join(places[:3].tolist()),
            remedy="Leave the lines of one place in it.",
        )
    told_c = np.full((springs.years.size, SLOTS, nights), np.nan)
    days = (log.issued + _TO_NOON).astype("datetime64[D]")
    for day in np.unique(days):
        newest = log.only(log.issued == log.issued[days == day].max())
        _fill(told_c, springs, day, newest.mornings, newest.forecast_c)
    return told_c


def _fill(told_c: Floats, springs: Springs, day: np.datetime64, mornings: Dates, forecast_c: Floats) -> None:
    """Write one morning's forecast; a 29 February that does not exist takes the night after it."""
    season, slot = split_dates(np.append(day, mornings), springs.start)
    ahead: Ints = slot[1:] - slot[0] - 1
    within = (season[1:] == season[0]) & (ahead >= 0) & (ahead < told_c.shape[2])
    leap = springs.start.leap_slot - slot[0] - 1
    for spring in np.flatnonzero(springs.years == season[0] + springs.start.spring_lag):
        told = told_c[spring, slot[0]]
        told[ahead[within]] = forecast_c[within]
        if 0 <= leap < told.size - 1 and np.isnan(told[leap]):
            told[leap] = told[leap + 1]
