"""The morning's answer."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from frostgate.values import dataclass

State = Literal["open", "shut", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The morning's answer.

    Parameters
    ----------
    on
        The day it is for.
    state
        ``open``, ``shut`` or ``unknown``; unknown is never safe.
    reasons
        Why, what drives it, and what would change it, in words.
    risk_tolerance
        The grower's.
    risk_today
        Chance of a damaging frost once the pots are fed today; None where it is unknown.
    earliest_date
        The first date at which the risk falls to the tolerance; None where it never does or is unknown.
    likely_from, likely_to
        The range in which that date will likely fall as forecasts come in; None where it is past or unknown.
    by_risk
        For several risks, the first date at which it is that low. Where the verdict is unknown these are the
        curve's dates alone.
    climate_only
        Whether the answer rests on the curve alone.

    Examples
    --------
    >>> Verdict(on=dt.date(2026, 4, 12), state="unknown", reasons=("The forecast is too old.",),
    ...         risk_tolerance=0.1).earliest_date is None
    True
    """

    on: dt.date
    state: State
    reasons: tuple[str, ...]
    risk_tolerance: float
    risk_today: float | None = None
    earliest_date: dt.date | None = None
    likely_from: dt.date | None = None
    likely_to: dt.date | None = None
    by_risk: tuple[tuple[float, dt.date | None], ...] = ()
    climate_only: bool = False
