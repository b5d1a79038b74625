"""An outlook into a verdict: open, shut or unknown, with its reasons."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace

import numpy as np

from frostgate.gate.outlook import look_ahead, weigh
from frostgate.model.gate import LARGEST_TOLERANCE, Forecast, Night, Outlook, Policy, Seen, Verdict, is_within
from frostgate.model.records import RECENT_DAYS, SiteClimate
from frostgate.seasons import Floats, say_day
from frostgate.units import TemperatureUnit, fahrenheit, say_offset, say_share, say_temperature

HARMLESS = 0.01  # a chance below this is not worth naming a night for
FURTHEST_SHIFT_C = 10.0
NO_FROST_C = 1000.0  # a margin that no error reaches across
NOTEWORTHY = 0.02
SMALLEST_RUN_C = 0.25
SHIFT_STEP_C = {"C": 0.5, "F": 5.0 / 9.0}


def drivers(outlook: Outlook, policy: Policy, unit: TemperatureUnit) -> tuple[str, ...]:
    """Tell what the risk comes from: a night of the forecast, or the season's remaining climate."""
    climate = _climate_sentence(outlook, policy, unit)
    if not outlook.nights:
        return (climate,)
    sentences = [_nights_sentence(outlook, unit), climate]
    if outlook.climate_risk[0] > outlook.window_risk[0]:
        sentences.reverse()
    return tuple(sentences)


def what_would_change(outlook: Outlook, policy: Policy, unit: TemperatureUnit) -> tuple[str, ...]:
    """Tell what would turn the answer: a night without its frost, a colder forecast, another tolerance."""
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
    """Return the chance of a frost beyond the forecast by the curve alone; NaN where that is not known."""
    seen = outlook.seen
    if seen is None:
        return math.nan
    return 1.0 - math.exp(-float(seen.curve[len(outlook.nights) :].sum()) - float(seen.end))


def past_nights_c(outlook: Outlook) -> float:
    """Return how far the past 60 nights ran from what is usual [°C]; NaN where that is not known."""
    seen = outlook.seen
    if seen is None or seen.recent is None or seen.climate_sd_c.size == 0:
        return math.nan
    return float(seen.recent) * float(seen.climate_sd_c[0])


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
    """Return today's risk, had all forecast nights been so much milder [°C], shape of the shifts."""
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
    """Return today's risk by the other nights and the season beyond, all else as it is seen."""
    others = np.arange(seen.margin_c.size) != night
    window, _ = weigh(replace(seen, margin_c=np.where(others, seen.margin_c, NO_FROST_C)), policy)
    _, beyond = weigh(seen, policy)
    return 1.0 - math.exp(-float(window[others].sum() + beyond.sum() + seen.end))


def _tidy(temp_c: float, unit: TemperatureUnit) -> float:
    """Round to a whole degree of the grower's unit, as forecasts are read."""
    return (round(fahrenheit(temp_c)) - 32) / 1.8 if unit == "F" else round(temp_c, 1)


STANDING = (
    "A chance is not a promise: watch the forecast after feeding, and be ready to cover or move the pots.",
    "A regional forecast can miss a cold hollow by many degrees; trust a minimum thermometer among the pots.",
    "Follow the fertilizer's label and local rules on feeding and runoff; they come before any date here.",
)


def cautions_for(policy: Policy, site: SiteClimate | None, *, climate_only: bool = False) -> tuple[str, ...]:
    """Return the cautions that go with an answer."""
    special = []
    if climate_only:
        special.append(
            "This answer looks at no forecast: it knows what springs were like, not what is coming."
        )
    if site is not None and site.curve.frost_share == 0.0:
        seasons = site.curve.seasons_used
        special.append(
            f"No damaging frost in {seasons} seasons does not rule one out: a chance of up to "
            f"{say_share(3 / seasons)} a season is consistent with that (rule of three)."
        )
    if policy.damage_temp_c < 0.0:
        special.append(
            "Tender growth can be hurt at the freezing point; you chose a lower damage temperature."
        )
    return (*special, *STANDING)


RISKS = (0.50, 0.30, 0.20, 0.10, 0.05, 0.02, 0.01)


def judge(
    outlook: Outlook, policy: Policy, unit: TemperatureUnit = "C", *, climate_only: bool = False
) -> Verdict:
    """Open the gate, shut it, or say that it cannot be known.

    Parameters
    ----------
    outlook
        What `look_ahead` saw.
    policy
        The grower's numbers.
    unit
        For the temperatures in the reasons.
    climate_only
        The grower asked to be answered from the curve alone.

    Examples
    --------
    >>> dates = np.arange("2026-05-10", "2026-05-13", dtype="datetime64[D]")
    >>> risk = np.array([0.2, 0.12, 0.08])
    >>> outlook = Outlook(today=dt.date(2026, 5, 10), dates=dates, risk=risk, window_risk=0 * risk,
    ...                   climate_risk=risk, climate_low=risk, climate_high=risk, climate_alone=risk)
    >>> verdict = judge(outlook, Policy(risk_tolerance=0.1), climate_only=True)
    >>> verdict.state, verdict.earliest_date
    ('shut', datetime.date(2026, 5, 12))
    """
    if outlook.doubts:
        return cannot_know(outlook.today, outlook.doubts, policy, outlook)
    earliest = outlook.date_at(policy.risk_tolerance)
    is_open = earliest == outlook.today
    likely_from, likely_to = (None, None) if is_open else _likely_range(outlook, policy)
    return Verdict(
        on=outlook.today,
        state="open" if is_open else "shut",
        reasons=(
            _headline(outlook, policy, earliest),
            *drivers(outlook, policy, unit),
            *what_would_change(outlook, policy, unit),
        ),
        risk_tolerance=policy.risk_tolerance,
        risk_today=float(outlook.risk[0]),
        earliest_date=earliest,
        likely_from=likely_from,
        likely_to=likely_to,
        by_risk=tuple((risk, outlook.date_at(risk)) for risk in RISKS),
        climate_only=climate_only,
    )


def cannot_know(
    today: dt.date, doubts: tuple[str, ...], policy: Policy, outlook: Outlook | None = None
) -> Verdict:
    """Return the verdict ``unknown``, with the curve's own dates where there is a curve."""
    by_risk = (
        (risk, None if outlook is None else outlook.date_at(risk, outlook.climate_alone)) for risk in RISKS
    )
    return Verdict(
        on=today,
        state="unknown",
        reasons=(*doubts, "Unknown is not safe: do not feed on this answer."),
        risk_tolerance=policy.risk_tolerance,
        by_risk=tuple(by_risk),
    )


def _headline(outlook: Outlook, policy: Policy, earliest: dt.date | None) -> str:
    share, tolerated = say_share(float(outlook.risk[0])), say_share(policy.risk_tolerance)
    if share == tolerated and earliest != outlook.today:
        share = f"a little over {tolerated}"
    risk = f"Fed today, the chance of a damaging frost still to come is {share}"
    limit = f"your limit is {tolerated}"
    if earliest == outlook.today:
        return f"{risk}; {limit}."
    if earliest is None:
        return f"{risk}; {limit}, and no date this season is within it."
    return f"{risk}; {limit}, reached on {say_day(earliest)} as things stand."


def _likely_range(outlook: Outlook, policy: Policy) -> tuple[dt.date | None, dt.date | None]:
    """The range of the opening date: if the coming forecasts stay clear, and by the curve's upper bound.

    Each morning's forecast covers as many nights as today's. If all of them stay clear of frost, the gate
    opens when the season's remaining climate beyond such a window has fallen to the tolerance. Without a
    forecast the range is that of the curve's own bounds.
    """
    reach = len(outlook.nights)
    hopeful = _beyond(outlook, reach) if reach else outlook.climate_low
    clear = outlook.date_at(policy.risk_tolerance, hopeful)
    earliest = outlook.date_at(policy.risk_tolerance)
    late = outlook.date_at(policy.risk_tolerance, np.maximum(outlook.risk, outlook.climate_high))
    if clear is None or earliest is None:
        return None, None
    tomorrow = outlook.today + dt.timedelta(days=1)
    return min(max(clear, tomorrow), earliest), late


def _beyond(outlook: Outlook, reach: int) -> Floats:
    """Return the curve's risk beyond a forecast window of ``reach`` nights, for each candidate date."""
    later = np.append(outlook.climate_alone[reach:], np.zeros(min(reach, outlook.dates.size)))
    return later[: outlook.dates.size]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Morning:
    """The answer of a morning, and what it rests on.

    Parameters
    ----------
    verdict
        Open, shut or unknown, with its reasons.
    policy
        The grower's numbers.
    now
        The moment of the question, local time of the garden.
    unit
        Of the temperatures in words.
    site
        The station's past; None where too little of it is known.
    outlook
        The risk of every date; None without a site.
    forecast
        The coming nights, where a forecast was given and looked at.
    cautions
        What to mind, in words.
    """

    verdict: Verdict
    policy: Policy
    now: dt.datetime
    unit: TemperatureUnit
    site: SiteClimate | None
    outlook: Outlook | None
    forecast: Forecast | None
    cautions: tuple[str, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What the readers put right or took for granted, in words."""
        return (*(self.site.notes if self.site else ()), *(self.forecast.notes if self.forecast else ()))


def ask(
    site: SiteClimate | None,
    forecast: Forecast | None,
    policy: Policy,
    now: dt.datetime,
    *,
    unit: TemperatureUnit = "C",
    climate_only: bool = False,
    doubts: tuple[str, ...] = (),
) -> Morning:
    """Ask whether it is safe to feed.

    Parameters
    ----------
    site
        What `know_site` made of the station's record at ``policy.station_threshold_c``; None where it could
        not, and ``doubts`` say why.
    forecast
        The coming nights, or None.
    policy
        The grower's numbers.
    now
        The moment of the question, local time of the garden, without zone.
    unit
        Of the temperatures in the reasons.
    climate_only
        Answer from the curve alone.
    doubts
        Why there is no site.

    Examples
    --------
    >>> ask(None, None, Policy(), dt.datetime(2026, 4, 12, 6), doubts=("No record.",)).verdict.reasons[0]
    'No record.'
    """
    if site is None:
        outlook, verdict = None, cannot_know(now.date(), doubts or ("No record was given.",), policy)
    else:
        outlook = look_ahead(
            site.curve, forecast, policy, now, weather=site.weather, climate_only=climate_only
        )
        verdict = judge(outlook, policy, unit, climate_only=climate_only)
    return Morning(
        verdict=verdict,
        policy=policy,
        now=now,
        unit=unit,
        site=site,
        outlook=outlook,
        forecast=None if climate_only else forecast,
        cautions=cautions_for(policy, site, climate_only=climate_only),
    )
