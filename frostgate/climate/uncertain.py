"""A curve for a garden whose offset from the station is not known for sure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from frostgate.terms import Floats, SiteClimate
from frostgate.values import replace

NODES = 5  # of the Gauss-Hermite rule: exact for a curve that is a polynomial of degree 9 in the threshold


def blur_site(know: Callable[[float], SiteClimate], threshold_c: float, sd_c: float) -> SiteClimate:
    """Average a station's curve over the thresholds that may be the garden's.

    Where the offset is uncertain by ``sd_c``, so is the station's minimum that damages the garden, and the
    risk is the mean of the risks at those thresholds.

    Parameters
    ----------
    know
        Makes the station's climate at a threshold [°C].
    threshold_c, sd_c
        Mean and standard deviation of the threshold [°C].

    Examples
    --------
    >>> import datetime as dt
    >>> from frostgate.seasons import NORTH
    >>> from frostgate.terms import FrostCurve, Station
    >>> def know(threshold_c):
    ...     curve = FrostCurve(kind="given", side="spring", threshold_c=threshold_c, start=NORTH,
    ...                        risk=np.full(366, 0.2 + 0.05 * threshold_c), frost_share=1, seasons_used=30,
    ...                        seasons_unknown=0, first_year=1991, last_year=2020)
    ...     return SiteClimate(station=Station(id="X"), curve=curve, suspects=0, suspects_kept=False,
    ...                        flagged=0, last_day=dt.date(2020, 7, 31))
    >>> blur_site(know, 1.0, 0.5).curve.risk[0].round(6)
    np.float64(0.25)
    """
    site = know(threshold_c)
    if sd_c <= 0.0:
        return site
    points, weights = np.polynomial.hermite_e.hermegauss(NODES)
    shares = weights / weights.sum()
    curves = [(know(threshold_c + sd_c * float(point)).curve if point else site.curve) for point in points]

    def mean(tables: Sequence[Floats | None]) -> Floats | None:
        known = [table for table in tables if table is not None]
        if len(known) < NODES:
            return None
        return np.asarray(np.tensordot(shares, np.stack(known), axes=1), dtype=np.float64)

    low, high = mean([curve.low for curve in curves]), mean([curve.high for curve in curves])
    risk = np.tensordot(shares, np.stack([curve.risk for curve in curves]), axes=1)
    falling = np.minimum.accumulate(np.clip(risk, 0.0, 1.0))
    return replace(site, curve=replace(site.curve, risk=falling, low=low, high=high))
