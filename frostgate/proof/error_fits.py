"""How forecasts err: a fit by least CRPS, and its scores on later mornings."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

from frostgate.errors import InputError
from frostgate.gate.forecast_errors import SMALLEST_SD_C, error_spread, frost_chance
from frostgate.model.gate import ForecastLog, Policy
from frostgate.proof.reliability import day_block_bands
from frostgate.seasons import Floats, Ints
from frostgate.units import as_stored, observed_step_c

FEWEST_PAIRS = 10
FEWEST_MORNINGS = 30  # in each half of a log that is tried
LARGEST_CORRELATION = 0.95  # a policy's
_NIGHT = np.timedelta64(1, "D")
_SHARES, _FACTORS = (0.0, 0.5), (1.0, 4.0)  # a wide half, or four times as wide, is no tail any more


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedErrors:
    """The error of a forecast, forecast less observed, as its past shows it."""

    pairs: int
    lead_days: tuple[float, ...]  # in quarters [d]
    lead_pairs: tuple[int, ...]  # of each lead
    bias_c: tuple[float, ...]  # of each lead [°C]
    sd_c: tuple[float, ...]  # of each lead [°C]
    scaled: bool  # the spreads are those at the policy's reference scatter, not as they stand
    wide_share: float  # tails, as a policy has them
    wide_factor: float
    correlation: float  # of consecutive nights of one issue at one place; NaN with fewer than ten such pairs
    correlated_pairs: int
    crps_c: float  # mean by the fit [°C]
    raw_crps_c: float  # of the forecast as it stands: its mean absolute error [°C]

    @property
    def mean_bias_c(self) -> float:
        """Mean of the leads' biases, each weighing by its pairs over its variance [°C]."""
        return float(np.average(self.bias_c, weights=np.array(self.lead_pairs) / np.square(self.sd_c)))

    def policy(self, policy: Policy) -> Policy:
        """Put the fit in place of a policy's error model.

        Spreads that fall with lead are held level. Spreads taken as they stand are not scaled by the weather
        a second time: all of them is then called local.
        """
        spreads = np.maximum.accumulate(self.sd_c).tolist()
        correlation = policy.error_correlation
        if math.isfinite(self.correlation):
            correlation = min(max(self.correlation, 0.0), LARGEST_CORRELATION)
        return replace(
            policy,
            error_sd_c=tuple(zip(self.lead_days, spreads, strict=True)),
            error_local_c=policy.error_local_c if self.scaled else max(spreads),
            error_bias_c=self.mean_bias_c,
            wide_share=self.wide_share,
            wide_factor=self.wide_factor,
            error_correlation=correlation,
        )


def fit_errors(
    log: ForecastLog, policy: Policy | None = None, climate_sd_c: Floats | float = math.inf
) -> FittedErrors:
    """Fit bias and spread by lead, the tails over all leads, and the correlation of consecutive nights."""
    policy = policy or Policy()
    rounded = np.round(log.lead_days * 4) / 4  # bulletins come out some minutes earlier or later
    leads, count = np.unique(rounded[np.isfinite(log.observed_c)], return_counts=True)
    leads, count = leads[count >= FEWEST_PAIRS], count[count >= FEWEST_PAIRS]
    if leads.size == 0:
        raise InputError(
            "too few forecasts whose minimum is known to fit their error",
            value=f"{log.closed.size} in all",
            remedy=f"At least {FEWEST_PAIRS} at one lead are needed.",
        )
    there = np.isfinite(log.observed_c) & np.isin(rounded, leads)
    used = log.only(there)
    error_c = used.forecast_c - used.observed_c
    scatter_c = np.broadcast_to(np.asarray(climate_sd_c, dtype=np.float64), there.shape)[there]
    scaled = np.isfinite(scatter_c)
    ratio = np.where(scaled, np.round(scatter_c, 1) / policy.reference_scatter_c, 1.0)
    local = policy.error_local_c**2 if scaled.any() else 0.0
    cases = np.column_stack([np.round(error_c, 4), np.searchsorted(leads, rounded[there]), ratio**2])
    numbers, crps_c = _least_crps(*np.unique(cases, axis=0, return_counts=True), local)
    correlation, correlated = _correlate(used, error_c)
    return FittedErrors(
        pairs=used.size,
        lead_days=tuple(leads.tolist()),
        lead_pairs=tuple(count.tolist()),
        bias_c=tuple(numbers[: leads.size].tolist()),
        sd_c=tuple(np.exp(numbers[leads.size : -2]).tolist()),
        scaled=bool(scaled.all()),
        wide_share=float(numbers[-2]),
        wide_factor=float(numbers[-1]),
        correlation=correlation,
        correlated_pairs=correlated,
        crps_c=crps_c,
        raw_crps_c=float(np.abs(error_c).mean()),
    )


def _least_crps(cases: Floats, times: Ints, local: float) -> tuple[Floats, float]:
    """Return bias and log spread of each lead, share and factor of the tails, and the mean CRPS they leave.

    A case is an error, its lead, and how far the weather's part of its variance is scaled; equal ones stand
    once, with how many times they came.
    """
    error_c, lead, weather = cases[:, 0], cases[:, 1].astype(np.int64), cases[:, 2]
    by_lead = [np.repeat(error_c[lead == k], times[lead == k]) for k in range(int(lead.max()) + 1)]
    leads = len(by_lead)

    def loss(numbers: Floats) -> float:
        table = np.exp(2 * numbers[leads:-2])[lead]
        part = np.minimum(local, table)
        sd_c = np.sqrt(part + (table - part) * weather)
        return float(
            np.average(crps_mixture(error_c, numbers[lead], sd_c, *numbers[-2:].tolist()), weights=times)
        )

    start = [float(np.median(errors)) for errors in by_lead]
    start += [math.log(max(float(np.std(errors)), SMALLEST_SD_C)) for errors in by_lead]
    bounds = [(None, None)] * leads + [(math.log(SMALLEST_SD_C), None)] * leads + [_SHARES, _FACTORS]
    found = optimize.minimize(loss, [*start, 0.1, 2.0], method="L-BFGS-B", bounds=bounds)
    return np.asarray(found.x), float(found.fun)


def _correlate(log: ForecastLog, error_c: Floats) -> tuple[float, int]:
    """Correlate the errors of one issue on consecutive nights, as a Gaussian copula: 2 sin(pi/6 rank's)."""
    import pandas as pd  # slow to load; a morning that learns from its log need not

    named = {"place": log.place, "issued": log.issued, "morning": log.mornings}
    nights = pd.DataFrame({**named, "lead": np.round(log.lead_days, 2), "left": error_c})
    nights["left"] -= nights.groupby(["place", "lead"])["left"].transform("mean")
    eves = nights.round({"left": 6}).assign(morning=nights["morning"] + _NIGHT)
    pairs = eves.merge(nights.round({"left": 6}), on=[*named])[["left_x", "left_y"]]
    if len(pairs) < FEWEST_PAIRS or pairs.nunique().min() == 1:
        return math.nan, len(pairs)
    ranked = float(pairs["left_x"].corr(pairs["left_y"], method="spearman"))
    return 2 * math.sin(math.pi / 6 * ranked), len(pairs)


def crps_mixture(
    observed: npt.ArrayLike, mean: npt.ArrayLike, sd: npt.ArrayLike, share: float, factor: float
) -> Floats:
    """Return the CRPS of a mixture of two Gaussians of one mean, the gate's model of an error.

    With A(m, s) = 2 s phi(m / s) + m (2 Phi(m / s) - 1), the mean of abs(m + s Z), it is
    sum_i w_i A(y - m, s_i) - 1/2 sum_ij w_i w_j A(0, sqrt(s_i^2 + s_j^2)); Grimit et al. 2006,
    doi:10.1256/qj.05.235.
    """
    off = np.asarray(observed, dtype=np.float64) - np.asarray(mean, dtype=np.float64)
    narrow = np.asarray(sd, dtype=np.float64) / math.sqrt(1 - share + share * factor**2)
    wide, mixed = factor * narrow, math.sqrt(1 + factor**2) * narrow
    near = (1 - share) * _distance(off, narrow) + share * _distance(off, wide)
    within = (1 - share) ** 2 * narrow + share**2 * wide + math.sqrt(2) * share * (1 - share) * mixed
    return np.asarray(near - within / math.sqrt(math.pi))


def _distance(off: Floats, spread: Floats) -> Floats:
    """Return the mean of abs(off + spread * Z)."""
    z = off / spread
    density = np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi)
    return np.asarray(2 * spread * density + off * (2 * special.ndtr(z) - 1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """How a fit to the earlier half of a log does on the later half."""

    fitted_mornings: int
    tried_mornings: int
    tried_nights: int
    crps_c: float  # mean with the fitted error [°C]
    raw_crps_c: float  # mean of the forecast as it stands [°C]
    brier: float  # of the chance of a frost
    raw_brier: float  # of the forecast as it stands: frost or none
    usual_brier: float  # of always stating the earlier half's share of frosts
    groups: Floats  # as `day_block_bands` returns them, shape (10, 5)


def try_fit(log: ForecastLog, damage_temp_c: float) -> Trial | None:
    """Fit the earlier half of a log's mornings and try it on the later half; None where there are too few."""
    closed = log.closed
    mornings = np.unique(closed.mornings)
    if mornings.size < 2 * FEWEST_MORNINGS:
        return None
    half = mornings[mornings.size // 2]
    earlier, later = closed.only(closed.mornings < half), closed.only(closed.mornings >= half)
    policy = fit_errors(earlier).policy(Policy(damage_temp_c=damage_temp_c))
    sd_c = error_spread(later.lead_days, math.nan, policy)
    mean_c = later.forecast_c - policy.error_bias_c
    margin_c = mean_c - damage_temp_c - observed_step_c(closed.observed_c) / 2
    chance = frost_chance(margin_c, sd_c, policy)
    frost, told, usual = (
        (as_stored(tmin_c) <= as_stored(damage_temp_c)).astype(np.float64)
        for tmin_c in (later.observed_c, later.forecast_c, earlier.observed_c)
    )
    crps_c = crps_mixture(later.observed_c, mean_c, sd_c, policy.wide_share, policy.wide_factor)
    return Trial(
        fitted_mornings=np.unique(earlier.mornings).size,
        tried_mornings=np.unique(later.mornings).size,
        tried_nights=later.size,
        crps_c=float(crps_c.mean()),
        raw_crps_c=float(np.abs(later.forecast_c - later.observed_c).mean()),
        brier=float(np.mean((chance - frost) ** 2)),
        raw_brier=float(np.mean((told - frost) ** 2)),
        usual_brier=float(np.mean((usual.mean() - frost) ** 2)),
        groups=day_block_bands(chance, frost, later.mornings),
    )
