"""The morning's answer as one screen of text, readable at six in the morning.

Plain strings and no library: this screen must not wait for anything to load.
"""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterable, Iterator

from frostgate.gate.doubts import age_hours
from frostgate.gate.morning import Morning
from frostgate.gate.reasons import say_day
from frostgate.terms import Forecast, Policy, SiteClimate, Verdict
from frostgate.terms.verdict import State
from frostgate.units import TemperatureUnit, fahrenheit, say_offset, say_share, say_temperature

WIDTH = 88
COUNSEL: dict[State, str] = {
    "open": "the first feeding may begin",
    "shut": "do not feed yet",
    "unknown": "cannot be known this morning; do not feed on this",
}
_BAR = 20


def morning_lines(morning: Morning) -> Iterator[str]:
    """Write the answer, its reasons, the dates by risk, the nights ahead, what was read, and the cautions.

    Examples
    --------
    >>> from frostgate.gate.morning import ask
    >>> from frostgate.terms import Policy
    >>> next(morning_lines(ask(None, None, Policy(), dt.datetime(2026, 4, 12, 6))))
    'UNKNOWN  Sun 12 Apr 2026: cannot be known this morning; do not feed on this'
    """
    verdict = morning.verdict
    yield from headline(verdict)
    yield from section("Why", bullets(verdict.reasons))
    yield from section(_risk_title(verdict), _by_risk(verdict))
    yield from section("The nights ahead, in the garden", nights_ahead(morning))
    yield from section("What this rests on", bullets(sources(morning)))
    yield from section("Take care", bullets(morning.cautions))


def headline(verdict: Verdict, counsel: dict[State, str] = COUNSEL) -> Iterator[str]:
    """Write the verdict in a line, and the earliest date below it.

    Examples
    --------
    >>> from frostgate.terms import Verdict
    >>> shut = Verdict(on=dt.date(2026, 4, 12), state="shut", reasons=(), risk_tolerance=0.1, risk_today=0.9)
    >>> list(headline(shut))[1]
    '         no date this season is within your limit'
    """
    yield f"{verdict.state.upper()}  {say_day(verdict.on)} {verdict.on.year}: {counsel[verdict.state]}"
    yield from _dates(verdict)


def _dates(verdict: Verdict) -> Iterator[str]:
    if verdict.state != "shut" or verdict.risk_today is None:  # past the season's stop no date is asked for
        return
    if verdict.earliest_date is None:
        yield "         no date this season is within your limit"
        return
    likely = ""
    if verdict.likely_from and verdict.likely_to:
        basis = "by the curve's bounds" if verdict.climate_only else "as forecasts come in"
        likely = f" (likely {say_day(verdict.likely_from)} to {say_day(verdict.likely_to)} {basis})"
    year = "" if verdict.earliest_date.year == verdict.on.year else f" {verdict.earliest_date.year}"
    yield f"      earliest {say_day(verdict.earliest_date)}{year}{likely}"


def section(title: str, lines: Iterable[str]) -> Iterator[str]:
    """Write lines under a title; nothing where there are none.

    Examples
    --------
    >>> list(section("Why", ["  - so"])), list(section("Why", []))
    (['', 'Why', '  - so'], [])
    """
    written = list(lines)
    if written:
        yield ""
        yield title
        yield from written


def bullets(sentences: Iterable[str]) -> Iterator[str]:
    """Write sentences as points, wrapped to the screen.

    Examples
    --------
    >>> list(bullets(["Feed."]))
    ['  - Feed.']
    """
    for sentence in sentences:
        yield from textwrap.wrap(sentence, WIDTH, initial_indent="  - ", subsequent_indent="    ")


def _risk_title(verdict: Verdict) -> str:
    basis = "by the curve alone" if verdict.climate_only or verdict.state == "unknown" else "as things stand"
    return f"First date by the risk you accept, {basis}"


def _by_risk(verdict: Verdict) -> Iterator[str]:
    if verdict.state == "unknown" and all(date is None for _, date in verdict.by_risk):
        return
    cells = [
        f"{say_share(risk):>5} {'no date' if date is None else say_day(date):<10}"
        for risk, date in verdict.by_risk
    ]
    for at in range(0, len(cells), 4):
        yield "  " + "  ".join(cells[at : at + 4]).rstrip()


def nights_ahead(morning: Morning) -> Iterator[str]:
    """Write the forecast nights as the gate weighs them, a line each; nothing without a forecast."""
    if morning.outlook is None or not morning.outlook.nights:
        return
    unit = morning.unit
    yield f"  to morning of   low    chance of {say_temperature(morning.policy.damage_temp_c, unit)} or less"
    for night in morning.outlook.nights:
        low = f"{fahrenheit(night.garden_c):z.0f} °F" if unit == "F" else f"{night.garden_c:z.1f} °C"
        bar = "#" * round(night.chance * _BAR)
        yield f"  {say_day(night.morning):<11} {low:>8}    {say_share(night.chance):>9}  {bar}".rstrip()


def sources(morning: Morning) -> Iterator[str]:
    """Tell what the answer rests on, a sentence each."""
    if morning.forecast is not None:
        yield _forecast_sentence(morning.forecast, morning)
    if morning.site is not None:
        yield _record_sentence(morning.site)
        yield _curve_sentence(morning.site)
        yield from _years_sentence(morning.site)
        yield from _spring_sentence(morning)
    yield _garden_sentence(morning.policy, morning.unit)
    yield from morning.notes


def _forecast_sentence(forecast: Forecast, morning: Morning) -> str:
    made = f"{say_day(forecast.issued_at.date())} {forecast.issued_at:%H:%M}"
    age = f"{age_hours(forecast, morning.now):.0f} hours old"
    told = "made" if forecast.issued_stated else "taken to be made"
    weighed = 0 if morning.outlook is None else len(morning.outlook.nights)
    nights = f"{forecast.dates.size} nights through {say_day(forecast.through)}"
    if weighed < forecast.dates.size:
        nights += f", {weighed} of them weighed"
    return f"Forecast: {nights}; {told} {made}, {age}."


def _record_sentence(site: SiteClimate) -> str:
    name = f"{site.station.name} ({site.station.id})" if site.station.name else site.station.id
    curve = site.curve
    suspects = f"{site.suspects} suspect " + ("kept as you asked" if site.suspects_kept else "left out")
    last = "its last " if site.years is not None and site.years.basis == "recent" else ""
    return (
        f"Station: {name}, {last}{curve.seasons_used} known springs {curve.first_year}-{curve.last_year}, "
        f"{curve.seasons_unknown} unknown; of its minima {site.flagged} flagged dropped, {suspects}."
    )


def _curve_sentence(site: SiteClimate) -> str:
    curve = site.curve
    median = curve.date_at(0.5)
    half = "fewer than half of all springs have one"
    if median is not None:
        half = f"one in two has its last after {_named(median)}"
    kind = "three fits, pooled" if curve.kind == "pooled" else curve.kind
    return f"Curve: {kind}; {say_share(curve.frost_share)} of springs had such a frost, {half}."


def _years_sentence(site: SiteClimate) -> Iterator[str]:
    if site.years is not None and site.years.basis != "all":
        yield f"Years: {site.years.reason}"


def _spring_sentence(morning: Morning) -> Iterator[str]:
    """Tell where the record ends too early to know how this spring has run."""
    outlook, site = morning.outlook, morning.site
    if outlook is None or site is None or not outlook.nights or outlook.seen is None:
        return
    if outlook.seen.frost is not None and outlook.seen.recent is None:
        yield (
            f"How this spring has run so far is not known: the record ends on {say_day(site.last_day)} "
            f"{site.last_day.year}. With a fresher one a mild or a cold spring would count."
        )


def _garden_sentence(policy: Policy, unit: TemperatureUnit) -> str:
    damage = say_temperature(policy.damage_temp_c, unit)
    station = _side(policy.offset_c, "the station", unit)
    if policy.garden_less_forecast_c == policy.offset_c:
        return f"Garden: damage at {damage} or less; {station}."
    forecast = _side(policy.garden_less_forecast_c, "the forecast", unit)
    return f"Garden: damage at {damage} or less; {station}, {forecast}."


def _side(offset_c: float, than: str, unit: TemperatureUnit) -> str:
    if offset_c == 0.0:
        return f"taken to be as cold as {than}"
    return f"{say_offset(abs(offset_c), unit)} {'colder' if offset_c < 0 else 'warmer'} than {than}"


def _named(month_day: str) -> str:
    month, day = month_day.split("-")
    return f"{int(day)} {dt.date(2000, int(month), 1):%b}"
