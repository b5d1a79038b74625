"""How forecasts err: fits by least CRPS, their scores on later mornings, bands by days."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy import optimize, special, stats

from frostgate.errors import InputError
from frostgate.gate.forecast_errors import SMALLEST_SD_C, error_spread, frost_chance
from frostgate.model.gate import ForecastLog, Policy
from frostgate.seasons import Floats, Ints
from frostgate.units import STORED_STEP_C, WHOLE_F_STEP_C, as_stored, whole_f

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
    log: ForecastLog, policy: Policy | None = None, climate_sd_c: Floats | float = math.inf
) -> FittedErrors:
    """Fit bias and spread by lead, the tails over all leads, and the correlation of consecutive nights."""
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
    scatter = np.broadcast_to(np.asarray(climate_sd_c, dtype=np.float64), there.shape)[there]
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
    def of(cls, error_c: Floats, lead: Ints, climate_sd_c: Floats, policy: Policy) -> _Cases:
        known = np.isfinite(climate_sd_c)
        ratio = np.where(known, np.round(climate_sd_c, 1) / policy.reference_scatter_c, 1.0)
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
    """Return each error the mean of its place and lead."""
    kind = np.unique(
        np.char.add(np.char.add(log.place, " "), np.round(log.lead_days, 2).astype(str)), return_inverse=True
    )[1]
    means: Floats = (np.bincount(kind, error_c) / np.maximum(np.bincount(kind), 1))[kind]
    return means


SURE = 0.95
BLOCK_DAYS = 5  # errors of a day are shared by neighbouring places, and fade from day to day within a week
DRAWS = 10_000


def crps_normal(observed: npt.ArrayLike, mean: npt.ArrayLike, sd: npt.ArrayLike) -> Floats:
    """Return the CRPS of a Gaussian forecast, s [z (2 Phi(z) - 1) + 2 phi(z) - 1 / sqrt(pi)].

    The form by Gneiting et al. 2005, doi:10.1175/MWR2904.1.
    """
    spread = np.asarray(sd, dtype=np.float64)
    off = np.asarray(observed, dtype=np.float64) - np.asarray(mean, dtype=np.float64)
    return np.asarray(_distance(off, spread) - spread / math.sqrt(math.pi))


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


def day_block_bands(
    stated: npt.ArrayLike, happened: npt.ArrayLike, days: npt.ArrayLike, bins: int = 10, seed: int = 1
) -> Floats:
    """Return each group of stated risks the shares between which 95 % lie where the risk is right.

    A binomial band takes every case to be independent; forecasts of neighbouring places on one day are not.
    So whole days are drawn, five consecutive ones together, and the band is as wide as the mean of happened
    less stated scatters over 10 000 such draws.
    """
    risks, came = np.asarray(stated, np.float64), np.asarray(happened, np.float64)
    day = np.asarray(days).astype("datetime64[D]" if np.asarray(days).dtype.kind == "M" else np.int64)
    if not risks.shape == came.shape == day.shape or risks.size == 0:
        raise InputError("each stated risk needs one outcome and one day", value=(risks.size, came.size))
    group = np.minimum((risks * bins + 1e-9).astype(np.int64), bins - 1)
    block = (day - day.min()).astype(np.int64) // BLOCK_DAYS
    blocks = int(block.max()) + 1

    def by_block(values: Floats) -> Floats:
        sums = np.bincount(block * bins + group, values, minlength=blocks * bins)
        return np.asarray(sums.reshape(blocks, bins), dtype=np.float64)

    count, off = by_block(np.ones(risks.size)), by_block(came - risks)
    drawn = np.random.default_rng(seed).multinomial(blocks, np.full(blocks, 1 / blocks), DRAWS)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_stated = by_block(risks).sum(axis=0) / count.sum(axis=0)
        share = by_block(came).sum(axis=0) / count.sum(axis=0)
        scatter = (drawn @ off) / (drawn @ count) - (share - mean_stated)
    ends = [_quantile(scatter, level) for level in ((1 - SURE) / 2, (1 + SURE) / 2)]
    low, high = (np.clip(mean_stated + end, 0.0, 1.0) for end in ends)
    return np.column_stack([count.sum(axis=0), mean_stated, share, low, high])


def _distance(off: Floats, spread: Floats) -> Floats:
    """Return the mean of abs(off + spread * Z)."""
    z = off / spread
    density = np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi)
    return np.asarray(2 * spread * density + off * (2 * special.ndtr(z) - 1))


def _quantile(scatter: Floats, level: float) -> Floats:
    known = np.isfinite(scatter).any(axis=0)
    ends = np.full(scatter.shape[1], np.nan)
    ends[known] = np.nanquantile(scatter[:, known], level, axis=0)
    return ends


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
    """Tell in which step minima were observed: a whole °F, or a tenth of a °C."""
    _, fits = whole_f(as_stored(np.asarray(minima_c, dtype=np.float64)))
    return WHOLE_F_STEP_C if fits.size and fits.mean() >= _WHOLE_F_SHARE else STORED_STEP_C


def _frosts(minima_c: Floats, damage_temp_c: float) -> Floats:
    return (as_stored(minima_c) <= as_stored(damage_temp_c)).astype(np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Emos:
    """Non-homogeneous regression: observed ~ N(a + b x, c + d S^2); Gneiting et al. 2005.

    Parameters
    ----------
    a, b
        Of the mean, from the forecast x [°C].
    c, d
        Of the variance, from the variance S^2 that the forecast states [°C^2].
    """

    a: float
    b: float
    c: float
    d: float = 0.0

    def mean_c(self, forecast_c: npt.ArrayLike) -> Floats:
        """Return the expected minimum [°C]."""
        return np.asarray(self.a + self.b * np.asarray(forecast_c, dtype=np.float64))

    def variance(self, stated_variance: npt.ArrayLike = 0.0) -> Floats:
        """Return its variance [°C^2]."""
        return np.asarray(self.c + self.d * np.asarray(stated_variance, dtype=np.float64))

    def frost_chance(self, forecast_c: float, stated_variance: float, damage_temp_c: float) -> float:
        """Return the chance of a minimum at or below the damage temperature."""
        margin_c = float(self.mean_c(forecast_c)) - damage_temp_c
        return frost_chance(margin_c, math.sqrt(self.variance(stated_variance)), Policy(wide_share=0.0))


def fit_emos(
    forecast_c: npt.ArrayLike, observed_c: npt.ArrayLike, spread_c: npt.ArrayLike | None = None
) -> Emos:
    """Fit a non-homogeneous regression by minimum CRPS, with b, c and d at least 0."""
    forecast, observed = _pairs(forecast_c, observed_c)
    stated = np.zeros(forecast.size) if spread_c is None else np.asarray(spread_c, np.float64) ** 2
    slope, start = np.polyfit(forecast, observed, 1) if np.ptp(forecast) > 0.0 else (1.0, 0.0)
    left = max(float(np.var(observed - start - slope * forecast)), SMALLEST_SD_C**2)
    d_most = 0.0 if spread_c is None else None

    def loss(numbers: Floats) -> float:
        a, b, c, d = numbers
        return float(crps_normal(observed, a + b * forecast, np.sqrt(c + d * stated)).mean())

    found = optimize.minimize(
        loss,
        [start, max(slope, 0.0), left, 0.0],
        method="L-BFGS-B",
        bounds=[(None, None), (0.0, None), (SMALLEST_SD_C**2, None), (0.0, d_most)],
    )
    a, b, c, d = (float(number) for number in found.x)
    return Emos(a=a, b=b, c=c, d=d)


def _pairs(forecast_c: npt.ArrayLike, observed_c: npt.ArrayLike) -> tuple[Floats, Floats]:
    forecast, observed = np.asarray(forecast_c, np.float64), np.asarray(observed_c, np.float64)
    if forecast.shape != observed.shape or forecast.size < FEWEST_PAIRS:
        sizes = f"{forecast.size} and {observed.size}"
        raise InputError("a fit needs at least ten pairs of forecast and observed", value=sizes)
    return forecast, observed
