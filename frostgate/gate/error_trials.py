"""Try a fitted error model on mornings that it has not seen: the later half of a log."""

from __future__ import annotations

import math

import numpy as np

from frostgate.gate.error_fits import fit_errors
from frostgate.gate.error_scores import crps_mixture, day_block_bands
from frostgate.gate.forecast_errors import error_spread, frost_chance
from frostgate.terms import Floats, Policy
from frostgate.terms.forecast_log import ForecastLog
from frostgate.units import STORED_STEP_C, WHOLE_F_STEP_C, as_stored, whole_f
from frostgate.values import dataclass

FEWEST_MORNINGS = 30  # in each half
_WHOLE_F_SHARE = 0.9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """How a fit to the earlier half of a log does on the later half.

    Parameters
    ----------
    fitted_mornings, tried_mornings, tried_nights
        Mornings of the two halves, and nights of the later one.
    crps_c, raw_crps_c
        Mean CRPS with the fitted error, and of the forecast as it stands [°C].
    brier, raw_brier, usual_brier
        Brier score of the chance of a frost, of the forecast as it stands (frost or none), and of always
        stating the earlier half's share of frosts.
    groups
        As `day_block_bands` gives them, shape (10, 5).

    Examples
    --------
    >>> Trial(fitted_mornings=30, tried_mornings=30, tried_nights=30, crps_c=1.0, raw_crps_c=1.4, brier=0.1,
    ...       raw_brier=0.2, usual_brier=0.2, groups=np.empty((10, 5))).beats_both
    True
    """

    fitted_mornings: int
    tried_mornings: int
    tried_nights: int
    crps_c: float
    raw_crps_c: float
    brier: float
    raw_brier: float
    usual_brier: float
    groups: Floats

    @property
    def beats_both(self) -> bool:
        """Whether the stated chance scores better than the bare forecast and than the usual share."""
        return self.brier < min(self.raw_brier, self.usual_brier)


def try_fit(log: ForecastLog, damage_temp_c: float) -> Trial | None:
    """Fit the earlier half of a log's mornings and try that on the later half; None where they are too few.

    Examples
    --------
    >>> days = np.arange("2026-01-01", "2026-05-01", dtype="datetime64[D]")
    >>> came_c = np.random.default_rng(1).normal(2, 4, 120)
    >>> told_c = came_c + np.random.default_rng(2).normal(1, 2, 120)
    >>> log = ForecastLog(issued=days, mornings=days + 1, forecast_c=told_c, observed_c=came_c)
    >>> try_fit(log, 0.0).beats_both
    True
    """
    closed = log.closed
    mornings = np.unique(closed.mornings)
    if mornings.size < 2 * FEWEST_MORNINGS:
        return None
    half = mornings[mornings.size // 2]
    earlier, later = closed.only(closed.mornings < half), closed.only(closed.mornings >= half)
    policy = fit_errors(earlier).policy(Policy(damage_temp_c=damage_temp_c))
    sd_c = error_spread(later.lead_days, math.nan, policy)
    mean_c = later.forecast_c - policy.error_bias_c
    margin_c = mean_c - damage_temp_c - observing_step_c(closed.observed_c) / 2
    nights = zip(margin_c.tolist(), sd_c.tolist(), strict=True)
    chance = np.array([frost_chance(margin, sd, policy) for margin, sd in nights])
    frost, usual = _frosts(later.observed_c, damage_temp_c), _frosts(earlier.observed_c, damage_temp_c).mean()
    crps_c = crps_mixture(later.observed_c, mean_c, sd_c, policy.wide_share, policy.wide_factor)
    return Trial(
        fitted_mornings=np.unique(earlier.mornings).size,
        tried_mornings=np.unique(later.mornings).size,
        tried_nights=later.size,
        crps_c=float(crps_c.mean()),
        raw_crps_c=float(np.abs(later.forecast_c - later.observed_c).mean()),
        brier=float(np.mean((chance - frost) ** 2)),
        raw_brier=float(np.mean((_frosts(later.forecast_c, damage_temp_c) - frost) ** 2)),
        usual_brier=float(np.mean((usual - frost) ** 2)),
        groups=day_block_bands(chance, frost, later.mornings),
    )


def observing_step_c(minima_c: Floats) -> float:
    """Tell in which step minima were observed: a whole °F, or a tenth of a °C.

    Examples
    --------
    >>> observing_step_c(np.array([-2.222, 0.0])), observing_step_c(np.array([-2.0, 1.5]))
    (0.5555555555555556, 0.1)
    """
    _, fits = whole_f(as_stored(np.asarray(minima_c, dtype=np.float64)))
    return WHOLE_F_STEP_C if fits.size and fits.mean() >= _WHOLE_F_SHARE else STORED_STEP_C


def _frosts(minima_c: Floats, damage_temp_c: float) -> Floats:
    return (as_stored(minima_c) <= as_stored(damage_temp_c)).astype(np.float64)
