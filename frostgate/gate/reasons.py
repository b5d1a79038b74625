"""Why the gate stands as it does, in words: what drives the risk, and what would change the answer."""

from __future__ import annotations

import datetime as dt
import math

from frostgate.gate.forecast_errors import chance_of_any, frost_chance
from frostgate.terms import LARGEST_TOLERANCE, Night, Outlook, Policy
from frostgate.units import TemperatureUnit, fahrenheit, say_offset, say_share, say_temperature

HARMLESS = 0.01  # a chance below this is not worth naming a night for
FURTHEST_SHIFT_C = 10.0
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
    is_open = outlook.risk[0] <= policy.risk_tolerance
    sentences = [_shift_sentence(outlook, policy, unit)] if outlook.nights else []
    if not is_open and outlook.nights and outlook.climate_risk[0] <= policy.risk_tolerance:
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
    return f"Beyond the forecast, after {end}: in {share} of springs {frost} still comes to this garden."


def _shift_sentence(outlook: Outlook, policy: Policy, unit: TemperatureUnit) -> str:
    if outlook.climate_risk[0] > policy.risk_tolerance:
        return "No forecast, however mild, would open it today: the season is too young."
    is_open = outlook.risk[0] <= policy.risk_tolerance
    shift_c = _turning_shift(outlook, policy, SHIFT_STEP_C[unit] * (-1 if is_open else 1))
    if shift_c is None:
        return ""
    amount = say_offset(abs(shift_c), unit)
    return (
        f"It would shut if the coming nights turned {amount} colder than forecast."
        if is_open
        else f"It would open today if the coming nights were forecast {amount} milder."
    )


def _turning_shift(outlook: Outlook, policy: Policy, step_c: float) -> float | None:
    """Find the smallest shift of all nights [°C] that turns the verdict; None within 10 °C."""
    is_open = outlook.risk[0] <= policy.risk_tolerance
    for steps in range(1, int(FURTHEST_SHIFT_C / abs(step_c)) + 1):
        shift_c = steps * step_c
        if (_risk_if_shifted(outlook, policy, shift_c) <= policy.risk_tolerance) != is_open:
            return shift_c
    return None


def _risk_if_shifted(outlook: Outlook, policy: Policy, shift_c: float) -> float:
    chances = [frost_chance(night.margin_c + shift_c, night.sd_c, policy) for night in outlook.nights]
    return _joined(outlook, policy, chances)


def _without_worst(outlook: Outlook, policy: Policy) -> str:
    worst = max(outlook.nights, key=lambda night: night.chance)
    chances = [0.0 if night is worst else night.chance for night in outlook.nights]
    risk = _joined(outlook, policy, chances)
    if outlook.risk[0] - risk < 0.02:
        return ""
    gate = "open" if risk <= policy.risk_tolerance else "still shut"
    night = f"Were the night to {say_day(worst.morning)} to pass without frost"
    return f"{night}, the risk would be {say_share(risk)} and the gate {gate}."


def _joined(outlook: Outlook, policy: Policy, chances: list[float]) -> float:
    window = float(chance_of_any(chances, policy.error_correlation)[0])
    return window + (1 - window) * float(outlook.climate_risk[0])


def _tidy(temp_c: float, unit: TemperatureUnit) -> float:
    """Round to a whole degree of the grower's unit, as forecasts are read."""
    return (round(fahrenheit(temp_c)) - 32) / 1.8 if unit == "F" else round(temp_c, 1)
