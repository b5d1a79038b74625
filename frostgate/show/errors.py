"""What a log tells of its forecast, as text and as plain values."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from frostgate.proof.error_fits import FEWEST_MORNINGS, FittedErrors, Trial
from frostgate.proof.reliability import consistency_band
from frostgate.show.answers import DIGITS, Plain, named, plain, rows_of
from frostgate.show.say import wrapped
from frostgate.show.tables import Part, grid
from frostgate.units import TemperatureUnit, say_offset, say_share, say_temperature

SPREAD = ("mean_bias_c", "wide_share", "wide_factor", "correlation", "correlated_pairs")
CRPS = ("crps_c", "raw_crps_c")
TRIED = ("fitted_mornings", "tried_mornings", "tried_nights", *CRPS, "brier", "raw_brier", "usual_brier")


def errors_answer(fitted: FittedErrors, trial: Trial | None, damage_temp_c: float) -> Plain:
    """Return bias and spread by lead, and how the fit does on other mornings, under stable names."""
    groups = () if trial is None else _stated(trial)
    of_leads = {"lead_days": fitted.lead_days, "pairs": fitted.lead_pairs}
    answer = {
        "pairs": fitted.pairs,
        "leads": rows_of(**of_leads, bias_c=fitted.bias_c, sd_c=fitted.sd_c),
        **named(fitted, *SPREAD, *CRPS),
        "damage_temp_c": damage_temp_c,
        "trial": trial
        and named(trial, *TRIED)
        | {
            "reliability": [
                {"nights": int(count), "stated": stated, "came_true": happened, "band": band}
                for count, stated, happened, *band in groups
            ]
        },
    }
    return dict(plain(answer, DIGITS | {"lead_days": None}))


def errors_parts(
    fitted: FittedErrors, trial: Trial | None, damage_temp_c: float, unit: TemperatureUnit
) -> Iterator[Part]:
    """Write bias and spread by lead, tails, correlation, and how the fit does on mornings it has not seen."""
    per_c = 1.8 if unit == "F" else 1.0
    leads = zip(fitted.lead_days, fitted.lead_pairs, fitted.bias_c, fitted.sd_c, strict=True)
    rows = (
        (f"{lead:.2f}", f"{pairs}", f"{bias_c * per_c:+.2f}", f"{sd_c * per_c:.2f}")
        for lead, pairs, bias_c, sd_c in leads
    )
    yield f"Forecast less observed minimum, {fitted.pairs} closed nights"
    yield grid(("lead [d]", "nights", f"bias [°{unit}]", f"spread [°{unit}]"), rows)
    yield ""
    tails = f"on {say_share(fitted.wide_share)} of nights {fitted.wide_factor:.1f} times as wide"
    if fitted.wide_share < 0.005 or fitted.wide_factor < 1.01:
        tails = "those of a Gaussian"
    yield f"Tails: {tails}."
    known = "not known" if math.isnan(fitted.correlation) else f"{fitted.correlation:.2f},"
    yield from wrapped(
        f"Correlation of consecutive nights of one forecast: {known} from {fitted.correlated_pairs} pairs."
    )
    yield from wrapped(
        f"CRPS {say_offset(fitted.crps_c, unit)} with this error, {say_offset(fitted.raw_crps_c, unit)} "
        "by the bare forecast (its mean absolute error); the less the better."
    )
    yield ""
    if trial is None:
        yield f"Not tried on other mornings: that takes {2 * FEWEST_MORNINGS} closed mornings."
    else:
        yield from _trial(trial, f"{say_temperature(damage_temp_c, unit)} or less", unit)


def _trial(trial: Trial, frost: str, unit: TemperatureUnit) -> Iterator[Part]:
    yield from wrapped(
        f"Fitted to the first {trial.fitted_mornings} mornings and tried on the last {trial.tried_mornings}: "
        f"CRPS {say_offset(trial.crps_c, unit)}, by the bare forecast {say_offset(trial.raw_crps_c, unit)}; "
        f"Brier score of {frost} {trial.brier:.4f}, by the bare forecast {trial.raw_brier:.4f}, by the "
        f"share of such nights {trial.usual_brier:.4f}."
    )
    rows = (
        (f"{stated:.1%}", f"{happened:.1%}", f"{count:.0f}", f"{low:.0%} to {high:.0%}")
        for count, stated, happened, low, high in _stated(trial)
    )
    yield from ("", f"The chance of {frost}, as stated and as it came true")
    yield grid(("stated", "came true", "nights", "95 % band"), rows)
    yield ""
    yield from wrapped(
        "Where the stated chance is right, 95 of 100 such shares lie in the band: the wider of that of "
        "independent nights and that of whole days."
    )


def _stated(trial: Trial) -> Iterator[tuple[float, float, float, float, float]]:
    """Return the groups in which something was stated; few nights alike show no scatter by days."""
    for count, stated, happened, low, high in trial.groups[np.isfinite(trial.groups[:, 1])].tolist():
        even_low, even_high = consistency_band(stated, int(count))
        yield count, stated, happened, min(low, even_low), max(high, even_high)
