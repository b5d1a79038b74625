"""Why the gate stands as it does, in words: what drives the risk, and what would change the answer."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from frostgate.gate.hazards import weigh
from frostgate.terms import LARGEST_TOLERANCE, RECENT_DAYS, Floats, Night, Outlook, Policy, Seen, is_within
from frostgate.units import TemperatureUnit, fahrenheit, say_offset, say_share, say_temperature
from frostgate.values import replace

HARMLESS = 0.01  # a chance below this is not worth naming a night for
FURTHEST_SHIFT_C = 10.0
NO_FROST_C = 1000.0  # a margin that no error reaches across
NOTEWORTHY = 0.02
SMALLEST_RUN_C = 0.25
SHIFT_STEP_C = {"C": 0.5, "F": 5.0 / 9.0}


def drivers(outlook: Outlook, policy: Policy, unit: TemperatureUnit) -> tuple[str, ...]:
    """Tell what the risk comes from: a night of the forecast, or the season's remaining climate.

    Examples
    --------
    >>> import numpy as np
    >>> one = np.array([0.2])
    >>> outlook = Outlook(today=dt.date(2026, 5, 10), dates=["2026-05-10"], risk=one, window_risk=0 * one,
    ...                   climate_risk=one, climate_low=one, climate_high=one, climate_alone=one)
    >>> drivers(outlook, Policy(), "C")
    ('By this station alone: in 20 % of springs a frost of 0 °C or less still comes after today.',)
    """
    climate = _climate_sentence(outlook, policy, unit)
    if not outlook.nights:
        return (climate,)
    sentences = [_nights_sentence(outlook, unit), climate]
    if outlook.climate_risk[0] > outlook.window_risk[0]:
        sentences.reverse()
    return tuple(sentences)


def what_would_change(outlook: Outlook, policy: Policy, unit: TemperatureUnit) -> tuple[str, ...]:
    """Tell what would turn the answer: a night without its frost, a colder forecast, another tolerance.

    Examples
    --------
    >>> import numpy as np
    >>> one = np.array([0.2])
    >>> outlook = Outlook(today=dt.date(2026, 5, 10), dates=["2026-05-10"], risk=one, window_risk=0 * one,
    ...                   climate_risk=one, climate_low=one, climate_high=one, climate_alone=one)
    >>> what_would_change(outlook, Policy(), "C")
    ('At a limit of 20 % the gate would be open today.',)
    """
    is_open = bool(is_within(outlook.risk[0], policy.risk_tolerance))
    sentences = []
    if outlook.nights and outlook.seen:
        sentences.append(_shift_sentence(outlook.seen, is_open, policy, unit))
    if not is_open and outlook.nights and is_within(outlook.climate_risk[0], policy.risk_tolerance):
        sentences.append(_without_worst(outlook, policy))
    enough = math.ceil(outlook.risk[0] * 100 - 1e-9) / 100
    if not is_open and enough <= LARGEST_TOLERANCE:
        sentences.append(f"At a limit of {say_share(enough)} the gate would be open today.")
    return tuple(sentence for sentence in sentences if sentence)


def say_day(date: dt.date) -> str:
    """Write a date as growers say it.

    Examples
    --------
    >>> say_day(dt.date(2026, 5, 10))
    'Sun 10 May'
    """
    return f"{date:%a} {date.day} {date:%b}"


def _nights_sentence(outlook: Outlook, unit: TemperatureUnit) -> str:
    worst = max(outlook.nights, key=lambda night: night.chance)
    if worst.chance < HARMLESS:
        coldest = min(outlook.nights, key=lambda night: night.garden_c)
        return (
            f"No forecast night has a chance of frost above {say_share(HARMLESS)}; the coldest ends on "
            f"{say_day(coldest.morning)}: {_low(coldest, unit)} in the garden."
        )
    return (
        f"The night to watch ends on {say_day(worst.morning)}: {_low(worst, unit)} in the garden by the "
        f"forecast, chance of a damaging frost {say_share(worst.chance)}."
    )


def _low(night: Night, unit: TemperatureUnit) -> str:
    return say_temperature(_tidy(night.garden_c, unit), unit)


def _climate_sentence(outlook: Outlook, policy: Policy, unit: TemperatureUnit) -> str:
    share = say_share(float(outlook.climate_risk[0]))
    frost = f"a frost of {say_temperature(policy.damage_temp_c, unit)} or less"
    if not outlook.nights:
        return f"By this station alone: in {share} of springs {frost} still comes after today."
    end = say_day(outlook.nights[-1].morning)
    if outlook.seen is None or outlook.seen.frost is None:
        return f"Beyond the forecast, after {end}: in {share} of springs {frost} still comes to this garden."
    alone = say_share(beyond_by_curve(outlook))
    return (
        f"Beyond the forecast, after {end}: in {share} of springs like this one {frost} still comes to this "
        f"garden; by the curve alone {alone}.{_of_late(outlook, unit)}"
    )


def beyond_by_curve(outlook: Outlook) -> float:
    """Give the chance of a frost beyond the forecast by the curve alone; NaN where that is not known.

    Examples
    --------
    >>> one = np.array([0.2])
    >>> outlook = Outlook(today=dt.date(2026, 5, 10), dates=["2026-05-10"], risk=one, window_risk=0 * one,
    ...                   climate_risk=one, climate_low=one, climate_high=one, climate_alone=one)
    >>> beyond_by_curve(outlook)
    nan
    """
    seen = outlook.seen
    if seen is None:
        return math.nan
    return 1.0 - math.exp(-float(seen.curve[len(outlook.nights) :].sum()) - float(seen.end))


def past_nights_c(outlook: Outlook) -> float:
    """Give how far the past 60 nights ran from what is usual [°C]; NaN where that is not known.

    Examples
    --------
    >>> one = np.array([0.2])
    >>> outlook = Outlook(today=dt.date(2026, 5, 10), dates=["2026-05-10"], risk=one, window_risk=0 * one,
    ...                   climate_risk=one, climate_low=one, climate_high=one, climate_alone=one)
    >>> past_nights_c(outlook)
    nan
    """
    seen = outlook.seen
    if seen is None or seen.recent is None or seen.scatter_c.size == 0:
        return math.nan
    return float(seen.recent) * float(seen.scatter_c[0])


def _of_late(outlook: Outlook, unit: TemperatureUnit) -> str:
    ran_c = past_nights_c(outlook)
    if math.isnan(ran_c):
        return ""
    if abs(ran_c) < SMALLEST_RUN_C:
        return f" The past {RECENT_DAYS} nights ran as usual."
    amount = say_offset(abs(ran_c), unit)
    return f" The past {RECENT_DAYS} nights ran {amount} {'milder' if ran_c > 0 else 'colder'} than usual."


def _shift_sentence(seen: Seen, is_open: bool, policy: Policy, unit: TemperatureUnit) -> str:
    step_c = SHIFT_STEP_C[unit] * (-1 if is_open else 1)
    shifts_c = step_c * np.arange(1, int(FURTHEST_SHIFT_C / abs(step_c)) + 1)
    *shifted, warm = _risks_if_shifted(seen, policy, np.append(shifts_c, NO_FROST_C))
    if not is_within(warm, policy.risk_tolerance):
        return "No forecast, however mild, would open it today: the season is too young."
    turned = is_within(np.array(shifted), policy.risk_tolerance) != is_open
    if not turned.any():
        return ""
    amount = say_offset(abs(float(shifts_c[np.argmax(turned)])), unit)
    return (
        f"It would shut if the coming nights turned {amount} colder than forecast."
        if is_open
        else f"It would open today if the coming nights were forecast {amount} milder."
    )


def _risks_if_shifted(seen: Seen, policy: Policy, shifts_c: Floats) -> Floats:
    """Give today's risk, had all forecast nights been so much milder [°C], shape of the shifts."""
    margin_c = seen.margin_c + shifts_c[:, np.newaxis]
    frost = None if seen.frost is None else np.tile(seen.frost, (shifts_c.size, 1))
    window, beyond = weigh(replace(seen, margin_c=margin_c, frost=frost), policy)
    return np.asarray(1.0 - np.exp(-(window.sum(axis=-1) + beyond.sum(axis=-1) + seen.end)), dtype=np.float64)


def _without_worst(outlook: Outlook, policy: Policy) -> str:
    """Tell what the risk would be, were the night to watch to pass without a frost."""
    if outlook.seen is None:
        return ""
    worst = max(range(len(outlook.nights)), key=lambda at: outlook.nights[at].chance)
    left = _risk_without(outlook.seen, policy, worst)
    if outlook.risk[0] - left < NOTEWORTHY:
        return ""
    gate = "open" if is_within(left, policy.risk_tolerance) else "still shut"
    night = f"Were the night to {say_day(outlook.nights[worst].morning)} to pass without frost"
    return f"{night}, the risk would be {say_share(left)} and the gate {gate}."


def _risk_without(seen: Seen, policy: Policy, night: int) -> float:
    """Give today's risk by the other nights and the season beyond, all else as it is seen."""
    others = np.arange(seen.margin_c.size) != night
    window, _ = weigh(replace(seen, margin_c=np.where(others, seen.margin_c, NO_FROST_C)), policy)
    _, beyond = weigh(seen, policy)
    return 1.0 - math.exp(-float(window[others].sum() + beyond.sum() + seen.end))


def _tidy(temp_c: float, unit: TemperatureUnit) -> float:
    """Round to a whole degree of the grower's unit, as forecasts are read."""
    return (round(fahrenheit(temp_c)) - 32) / 1.8 if unit == "F" else round(temp_c, 1)
