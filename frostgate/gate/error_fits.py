"""Fit the error of forecast minima to pairs of forecast and observed, by minimum CRPS.

Nothing the morning needs is here: it loads an optimiser. A fit becomes numbers of a `Policy`.
"""

from __future__ import annotations

import math

import numpy as np
from scipy import optimize, stats

from frostgate.errors import InputError
from frostgate.gate.error_scores import crps_mixture
from frostgate.gate.forecast_errors import SMALLEST_SD_C
from frostgate.terms import Floats, Ints, Policy
from frostgate.terms.forecast_log import ForecastLog
from frostgate.values import dataclass, replace

FEWEST_PAIRS = 10
LARGEST_CORRELATION = 0.95  # a policy's
_NIGHT = np.timedelta64(1, "D")
_SHARES, _FACTORS = (0.0, 0.5), (1.0, 4.0)  # a wide half, or four times as wide, is no tail any more


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedErrors:
    """The error of a forecast as its past shows it.

    Parameters
    ----------
    pairs
        Of forecast and observed.
    lead_days, lead_pairs, bias_c, sd_c
        Leads in quarters [d], and for each its pairs, the mean of forecast less observed and the spread [°C].
    scaled
        The spreads are those at the policy's reference scatter, not as they stand.
    wide_share, wide_factor
        Tails, as a policy has them.
    correlation, correlated_pairs
        Of the errors of consecutive nights of one issue at one place, whose own mean is taken off; NaN where
        there are fewer than ten such pairs.
    crps_c, raw_crps_c
        Mean CRPS by the fit, and of the forecast as it stands, which is its mean absolute error [°C].

    Examples
    --------
    >>> FittedErrors(pairs=9, lead_days=(1.0,), lead_pairs=(9,), bias_c=(0.5,), sd_c=(2.0,), scaled=False,
    ...              wide_share=0.1, wide_factor=2.0, correlation=math.nan, correlated_pairs=0, crps_c=1.1,
    ...              raw_crps_c=1.5).policy(Policy()).error_sd_c
    ((1.0, 2.0),)
    """

    pairs: int
    lead_days: tuple[float, ...]
    lead_pairs: tuple[int, ...]
    bias_c: tuple[float, ...]
    sd_c: tuple[float, ...]
    scaled: bool
    wide_share: float
    wide_factor: float
    correlation: float
    correlated_pairs: int
    crps_c: float
    raw_crps_c: float

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
    log: ForecastLog, policy: Policy | None = None, scatter_c: Floats | float = math.inf
) -> FittedErrors:
    """Fit bias and spread by lead, the tails over all leads, and the correlation of consecutive nights.

    Parameters
    ----------
    log
        Forecast nights, of one place or several; those without an observed minimum are passed over. A lead
        with fewer than ten pairs is passed over too.
    policy
        Whose ``error_local_c`` and ``reference_scatter_c`` part the spread by the weather.
    scatter_c
        Spread of the place's minima at the time of the year of each row of the log [°C]; infinite where it is
        not known, and then the spreads are taken as they stand.

    Raises
    ------
    InputError
        Where no lead has ten pairs.

    Examples
    --------
    >>> days = np.arange("2026-01-01", "2026-12-31", dtype="datetime64[D]")
    >>> log = ForecastLog(issued=days, mornings=days + 1, forecast_c=np.full(days.size, 4.6),
    ...                   observed_c=np.random.default_rng(1).normal(4, 1.5, days.size))
    >>> fitted = fit_errors(log)
    >>> fitted.lead_days, fitted.lead_pairs, fitted.correlated_pairs
    ((1.25,), (364,), 0)
    """
    rounded = _rounded_leads(log)
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
    scatter = np.broadcast_to(np.asarray(scatter_c, dtype=np.float64), there.shape)[there]
    cases = _Cases.of(error_c, np.searchsorted(leads, rounded[there]), scatter, policy or Policy())
    bias_c, sd_c, share, factor, crps_c = cases.fit()
    correlation, correlated = _correlate(used, error_c)
    return FittedErrors(
        pairs=used.size,
        lead_days=tuple(leads.tolist()),
        lead_pairs=tuple(count.tolist()),
        bias_c=tuple(bias_c.tolist()),
        sd_c=tuple(sd_c.tolist()),
        scaled=bool(np.isfinite(scatter).all()),
        wide_share=share,
        wide_factor=factor,
        correlation=correlation,
        correlated_pairs=correlated,
        crps_c=crps_c,
        raw_crps_c=float(np.abs(error_c).mean()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cases:
    """Errors with their lead and how far the weather's part of their variance is scaled; equal ones once."""

    error_c: Floats
    lead: Ints
    weather: Floats
    times: Ints
    local: float

    @classmethod
    def of(cls, error_c: Floats, lead: Ints, scatter_c: Floats, policy: Policy) -> _Cases:
        known = np.isfinite(scatter_c)
        ratio = np.where(known, np.round(scatter_c, 1) / policy.reference_scatter_c, 1.0)
        rows = np.column_stack([np.round(error_c, 4), lead, ratio**2])
        cases, times = np.unique(rows, axis=0, return_counts=True)
        error, at, weather = cases.T
        local = policy.error_local_c**2 if known.any() else 0.0
        return cls(error_c=error, lead=at.astype(np.int64), weather=weather, times=times, local=local)

    def fit(self) -> tuple[Floats, Floats, float, float, float]:
        """Find bias and spread of each lead, share and factor of the tails, and the mean CRPS they leave."""
        leads = int(self.lead.max()) + 1
        by_lead = [
            np.repeat(self.error_c, self.times)[np.repeat(self.lead, self.times) == k] for k in range(leads)
        ]
        start = [float(np.median(errors)) for errors in by_lead]
        start += [math.log(max(float(np.std(errors)), SMALLEST_SD_C)) for errors in by_lead]

        def loss(numbers: Floats) -> float:
            table = np.exp(2 * numbers[leads:-2])[self.lead]
            local = np.minimum(self.local, table)
            sd_c = np.sqrt(local + (table - local) * self.weather)
            scores = crps_mixture(self.error_c, numbers[self.lead], sd_c, *numbers[-2:])
            return float(np.average(scores, weights=self.times))

        bounds = [(None, None)] * leads + [(math.log(SMALLEST_SD_C), None)] * leads + [_SHARES, _FACTORS]
        found = optimize.minimize(loss, [*start, 0.1, 2.0], method="L-BFGS-B", bounds=bounds)
        share, factor = found.x[-2:].tolist()
        return found.x[:leads], np.exp(found.x[leads:-2]), share, factor, float(found.fun)


def _correlate(log: ForecastLog, error_c: Floats) -> tuple[float, int]:
    """Correlate the errors of one issue on consecutive nights, as a Gaussian copula: 2 sin(pi/6 rank's)."""
    left = np.round(error_c - _own_means(log, error_c), 6)
    place = np.unique(log.place, return_inverse=True)[1]
    nights = zip(place.tolist(), log.issued.tolist(), log.mornings.tolist(), strict=True)
    row = {night: at for at, night in enumerate(nights)}
    later = (log.mornings + _NIGHT).tolist()
    after = zip(place.tolist(), log.issued.tolist(), later, strict=True)
    pairs = np.array([(at, row[night]) for at, night in enumerate(after) if night in row], dtype=np.int64)
    if len(pairs) < FEWEST_PAIRS or min(np.ptp(left[pairs], axis=0)) == 0.0:
        return math.nan, len(pairs)
    ranked = float(stats.spearmanr(left[pairs[:, 0]], left[pairs[:, 1]]).statistic)
    return 2 * math.sin(math.pi / 6 * ranked), len(pairs)


def _rounded_leads(log: ForecastLog) -> Floats:
    """Bring leads to quarters of a day: bulletins come out some minutes earlier or later."""
    return np.asarray(np.round(log.lead_days * 4) / 4)


def _own_means(log: ForecastLog, error_c: Floats) -> Floats:
    """Give each error the mean of its place and lead."""
    kind = np.unique(
        np.char.add(np.char.add(log.place, " "), np.round(log.lead_days, 2).astype(str)), return_inverse=True
    )[1]
    means: Floats = (np.bincount(kind, error_c) / np.maximum(np.bincount(kind), 1))[kind]
    return means
