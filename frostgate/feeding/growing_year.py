"""The year as a tree lives it: from midwinter to midwinter, with one autumn in it."""

from __future__ import annotations

import datetime as dt
import math

from frostgate.seasons import SeasonStart, date_of, season_day_of
from frostgate.terms.frosts import FrostCurve

MIDWINTER = 153  # season day: 1 January in the north, 3 July in the south
_UNPLACED = dt.timedelta(days=240)


def growing_year(today: dt.date, start: SeasonStart | None) -> dt.date:
    """Give the midwinter since which what was done and seen belongs to this year's growth.

    Parameters
    ----------
    today
        The day.
    start
        Where the site's frost season begins; where it is not known, the past eight months count.

    Examples
    --------
    >>> from frostgate.seasons import NORTH, SOUTH
    >>> growing_year(dt.date(2026, 4, 12), NORTH), growing_year(dt.date(2025, 12, 31), NORTH)
    (datetime.date(2026, 1, 1), datetime.date(2025, 1, 1))
    >>> growing_year(dt.date(2026, 10, 2), SOUTH)
    datetime.date(2026, 7, 3)
    """
    if start is None:
        return today - _UNPLACED
    year, day = season_day_of(today, start)
    return date_of(year if day >= MIDWINTER else year - 1, MIDWINTER, start)


def autumn_date(curve: FrostCurve, risk: float, after: dt.date) -> dt.date | None:
    """Give the first date after a day by which an autumn frost has come with no more than a risk.

    Parameters
    ----------
    curve
        First autumn frosts.
    risk
        Chance of a frost on an earlier day that one can live with.
    after
        The day.

    Returns
    -------
    date
        None where the curve has no such date.

    Examples
    --------
    >>> import numpy as np
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="autumn", threshold_c=0.0, start=NORTH,
    ...                    risk=np.clip((np.arange(366) - 60) / 40, 0, 1), frost_share=1.0, seasons_used=30,
    ...                    seasons_unknown=0, first_year=1991, last_year=2020)
    >>> autumn_date(curve, 0.1, dt.date(2026, 5, 16))
    datetime.date(2026, 10, 4)
    """
    day = curve.day_at_risk(risk)
    if math.isnan(day):
        return None
    year, _ = season_day_of(after, curve.start)
    dates = (date_of(year + ahead, math.floor(day + 0.5), curve.start) for ahead in (0, 1))
    return next(date for date in dates if date > after)
