"""What a log tells of its forecast, as text and as plain values."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from frostgate.proof.error_fits import FEWEST_MORNINGS, FittedErrors, Trial
from frostgate.proof.reliability import consistency_band
from frostgate.show.answers import Plain, rounded
from frostgate.show.say import wrapped
from frostgate.units import TemperatureUnit, say_offset, say_share, say_temperature


def errors_lines(
    fitted: FittedErrors, trial: Trial | None, damage_temp_c: float, unit: TemperatureUnit
) -> Iterator[str]:
    """Write bias and spread by lead, tails, correlation, and how the fit does on mornings it has not seen."""
    yield f"Forecast less observed minimum, {fitted.pairs} closed nights"
    yield f"lead [d]   nights  bias [°{unit}]  spread [°{unit}]"
    per_c = 1.8 if unit == "F" else 1.0
    rows = zip(fitted.lead_days, fitted.lead_pairs, fitted.bias_c, fitted.sd_c, strict=True)
    for lead, pairs, bias_c, sd_c in rows:
        yield f"{lead:>9.2f} {pairs:>8} {bias_c * per_c:>+10.2f} {sd_c * per_c:>8.2f}"
    yield ""
    yield from _wrapped(_tails(fitted))
    yield from _wrapped(_correlation(fitted))
    yield from _wrapped(
        f"CRPS {say_offset(fitted.crps_c, unit)} with this error, {say_offset(fitted.raw_crps_c, unit)} "
        "by the bare forecast (its mean absolute error); the less the better."
    )
    yield ""
    if trial is None:
        yield f"Not tried on other mornings: that takes {2 * FEWEST_MORNINGS} closed mornings."
        return
    yield from _trial_lines(trial, damage_temp_c, unit)


def errors_answer(fitted: FittedErrors, trial: Trial | None, damage_temp_c: float) -> Plain:
    """Return the same under stable names."""
    rows = zip(fitted.lead_days, fitted.lead_pairs, fitted.bias_c, fitted.sd_c, strict=True)
    return {
        "pairs": fitted.pairs,
        "leads": [
            {"lead_days": lead, "pairs": pairs, "bias_c": rounded(bias_c), "sd_c": rounded(sd_c)}
            for lead, pairs, bias_c, sd_c in rows
        ],
        "mean_bias_c": rounded(fitted.mean_bias_c),
        "wide_share": rounded(fitted.wide_share),
        "wide_factor": rounded(fitted.wide_factor),
        "correlation": rounded(fitted.correlation),
        "correlated_pairs": fitted.correlated_pairs,
        "crps_c": rounded(fitted.crps_c),
        "raw_crps_c": rounded(fitted.raw_crps_c),
        "damage_temp_c": round(damage_temp_c, 3),
        "trial": None if trial is None else _trial_answer(trial),
    }


def _tails(fitted: FittedErrors) -> str:
    if fitted.wide_share < 0.005 or fitted.wide_factor < 1.01:
        return "Tails: those of a Gaussian."
    return f"Tails: on {say_share(fitted.wide_share)} of nights {fitted.wide_factor:.1f} times as wide."


def _correlation(fitted: FittedErrors) -> str:
    pairs = f"{fitted.correlated_pairs} pairs"
    if math.isnan(fitted.correlation):
        return f"Correlation of consecutive nights of one forecast: not known from {pairs}."
    return f"Correlation of consecutive nights of one forecast: {fitted.correlation:.2f}, from {pairs}."


def _trial_lines(trial: Trial, damage_temp_c: float, unit: TemperatureUnit) -> Iterator[str]:
    frost = f"{say_temperature(damage_temp_c, unit)} or less"
    yield from _wrapped(
        f"Fitted to the first {trial.fitted_mornings} mornings and tried on the last {trial.tried_mornings}: "
        f"CRPS {say_offset(trial.crps_c, unit)}, by the bare forecast {say_offset(trial.raw_crps_c, unit)}; "
        f"Brier score of {frost} {trial.brier:.4f}, by the bare forecast {trial.raw_brier:.4f}, by the "
        f"share of such nights {trial.usual_brier:.4f}."
    )
    yield ""
    yield f"stated  came true  nights     95 % band   (of {frost})"
    for count, stated, happened, low, high in _stated(trial):
        yield f"{stated:>6.1%} {happened:>10.1%} {count:>7.0f} {f'{low:.0%} to {high:.0%}':>13}"
    yield ""
    yield from _wrapped(
        "Where the stated chance is right, 95 of 100 such shares lie in the band: the wider of that of "
        "independent nights and that of whole days."
    )


def _trial_answer(trial: Trial) -> Plain:
    names = ("crps_c", "raw_crps_c", "brier", "raw_brier", "usual_brier")
    return {
        "fitted_mornings": trial.fitted_mornings,
        "tried_mornings": trial.tried_mornings,
        "tried_nights": trial.tried_nights,
        **{name: rounded(getattr(trial, name)) for name in names},
        "reliability": [
            {
                "nights": int(count),
                "stated": rounded(stated),
                "came_true": rounded(happened),
                "band": [rounded(low), rounded(high)],
            }
            for count, stated, happened, low, high in _stated(trial)
        ],
    }


def _stated(trial: Trial) -> Iterator[tuple[float, float, float, float, float]]:
    """Return the groups in which something was stated; few nights alike show no scatter by days."""
    for count, stated, happened, low, high in trial.groups[np.isfinite(trial.groups[:, 1])].tolist():
        even_low, even_high = consistency_band(stated, int(count))
        yield count, stated, happened, min(low, even_low), max(high, even_high)


def _wrapped(sentence: str) -> Iterator[str]:
    yield from wrapped(sentence)
