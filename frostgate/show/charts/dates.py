"""A record's frost dates, year by date."""

from __future__ import annotations

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import SLOTS
from frostgate.show.charts.paper import (
    HEIGHT,
    PALETTE,
    WIDTH,
    Frame,
    chart_of,
    days_scale,
    finish,
    say_day_of_year,
    say_place,
    season_dates,
    write_beside,
)
from frostgate.terms import FrostDates, Station
from frostgate.units import TemperatureUnit, say_temperature


def draw_frost_dates(
    frosts: FrostDates, unit: TemperatureUnit, *, station: Station | None = None
) -> alt.LayerChart:
    """Draw each season's frost as a dot, year by date; seasons without one and unknown ones on the axis.

    Parameters
    ----------
    frosts
        Last spring or first autumn frosts.
    unit
        For the threshold.
    station
        Where the minima were measured.

    Raises
    ------
    InputError
        Where there is no season.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> frosts = FrostDates(side="spring", threshold_c=0.0, start=NORTH, years=[2024, 2025, 2026],
    ...                     day=[250, -np.inf, np.nan])
    >>> draw_frost_dates(frosts, "F").to_dict()["title"]["text"]
    'Last frost of each spring, 32 °F or less'
    """
    which = "Last" if frosts.side == "spring" else "First"
    title = f"{which} frost of each {frosts.side}, {say_temperature(frosts.threshold_c, unit)} or less"
    if frosts.years.size == 0:
        raise InputError("no season to draw")
    x, y, dates = _year_axis(frosts), _date_axis(frosts), season_dates(frosts.start)
    rows = [
        {"year": int(year), "date": str(dates[int(day)]), "day": say_day_of_year(dates[int(day)])}
        for year, day in zip(frosts.years, frosts.day, strict=True)
        if np.isfinite(day)
    ]
    dots = chart_of(rows).mark_point(filled=True, size=60, color=PALETTE[1], opacity=1)
    layers = [
        dots.encode(x=x, y=y, tooltip=["year:Q", "day:N"]),
        *_mark_undated(frosts, "none", "triangle-down", HEIGHT - 24, x),
        *_mark_undated(frosts, "unknown", "circle", HEIGHT, x),
    ]
    frost, none, unknown = (frosts.states.count(state) for state in ("frost", "none", "unknown"))
    subtitle = f"{say_place(station)}{frost} with a frost, {none} without, {unknown} unknown"
    chart = alt.LayerChart(
        layer=layers, width=WIDTH, height=HEIGHT, title=alt.TitleParams(title, subtitle=subtitle)
    )
    return finish(chart)


def _date_axis(frosts: FrostDates) -> alt.Y:
    """Span the frosts, with room below them for the seasons that have no date."""
    found = frosts.day[np.isfinite(frosts.day)]
    span = found if found.size else np.array([0, SLOTS - 1])
    first, last = season_dates(frosts.start)[[int(span.min()), int(span.max())]]
    margin = 3 + (last - first) // 25
    frame = Frame(first=first - margin, last=last + margin, width=HEIGHT)
    axis = alt.Axis(format="%-d %b", values=frame.ticks(40))
    return alt.Y("date:T", title=None, scale=days_scale(first - 4 * margin, frame.last), axis=axis)


def _year_axis(frosts: FrostDates) -> alt.X:
    scale = alt.Scale(domain=[int(frosts.years.min()) - 1, int(frosts.years.max()) + 1], nice=False)
    axis = alt.Axis(format="d", grid=False, tickMinStep=1, labelFlush=False)
    return alt.X("year:Q", title=None, scale=scale, axis=axis)


def _mark_undated(frosts: FrostDates, state: str, shape: str, height: float, x: alt.X) -> list[alt.Chart]:
    """Mark the seasons that have no date, with the mark's meaning at the right."""
    years = [int(year) for year, found in zip(frosts.years, frosts.states, strict=True) if found == state]
    if not years:
        return []
    marks = chart_of([{"year": year} for year in years]).encode(x=x, y=alt.value(height), tooltip=["year:Q"])
    text = "no frost" if state == "none" else "unknown"
    return [
        marks.mark_point(shape=shape, size=70, color=PALETTE[0], filled=False, fill="white", opacity=1),
        write_beside([{"text": text}], WIDTH, PALETTE[0]).encode(y=alt.value(height)),
    ]
