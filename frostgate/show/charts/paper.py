"""What all charts share: paper, scales, files."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.records import FrostDates, Station
from frostgate.seasons import SLOTS, Dates, Floats, SeasonStart, date_of
from frostgate.units import TemperatureUnit, say_temperature

# The colours of Okabe and Ito for every kind of colour vision, less their yellow, too pale on white; as given
# by Wong (2011), doi:10.1038/nmeth.1618.
PALETTE = ("#D55E00", "#0072B2", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
INK, GREY, PALE = "#222222", "#666666", "#DDDDDD"
WIDTH, HEIGHT = 760, 370  # of the plot alone [px]

Rows = list[dict[str, Any]]
AnyChart = TypeVar("AnyChart", alt.LayerChart, alt.HConcatChart, alt.VConcatChart)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The days and risks that a plot spans, and its size [px].

    Parameters
    ----------
    first, last
        The days at its edges.
    width, height
        Of the plot alone [px].
    top
        The highest risk.
    from_first
        Whether the axis of dates counts weeks from the first day.
    """

    first: np.datetime64
    last: np.datetime64
    width: int = WIDTH
    height: int = HEIGHT
    top: float = 1.0
    from_first: bool = False  # whether the axis of dates counts weeks from its first day

    def across(self, dates: Dates) -> Floats:
        """Place dates in the plot [px]."""
        share = (dates - self.first).astype(float) / (self.last - self.first).astype(float)
        return np.asarray(share * self.width, dtype=np.float64)

    def ticks(self, room: float) -> list[alt.DateTime]:
        """Choose days of the months, so many that each has ``room`` [px]."""
        days = np.arange(self.first, self.last + 1)
        wanted = self.width / days.size / room * 30
        if self.from_first:
            return [_moment(day) for day in days[:: 7 * max(1, round(4.3 / wanted))]]
        of_month = [1, 8, 15, 22] if wanted >= 4.3 else [1, 15] if wanted >= 2.1 else [1]
        in_month = (days - days.astype("datetime64[M]").astype("datetime64[D]")).astype(int) + 1
        return [_moment(day) for day in days[np.isin(in_month, of_month)]]

    def x(self) -> alt.X:
        """Make the axis of dates."""
        axis = alt.Axis(format="%-d %b", values=self.ticks(60), labelFlush=False)
        return alt.X("date:T", title=None, scale=days_scale(self.first, self.last), axis=axis)

    def y(self, title: str, ticks: Sequence[float] = ()) -> alt.Y:
        """Make the axis of risk."""
        values = {"values": list(ticks)} if ticks else {"tickCount": 5}
        axis = alt.Axis(labelExpr="format(datum.value * 100, '.0f') + ' %'", grid=False, **values)
        return alt.Y("risk:Q", title=title, scale=alt.Scale(domain=[0, self.top], nice=False), axis=axis)


def chart_of(rows: Rows) -> alt.Chart:
    """Start a chart from rows of data."""
    chart: alt.Chart = alt.Chart(alt.InlineData(values=rows))
    return chart


def layer_chart(layers: list[alt.Chart], frame: Frame, title: alt.TitleParams) -> alt.LayerChart:
    """Lay layers over one another in a frame."""
    return alt.LayerChart(layer=layers, width=frame.width, height=frame.height, title=title)


def write_beside(rows: Rows, width: int, color: str = GREY) -> alt.Chart:
    """Write small texts to the right of the plot."""
    texts: alt.Chart = chart_of(rows).mark_text(align="left", dx=7, fontSize=12, color=color)
    return texts.encode(x=alt.value(width), text="text:N")


def season_dates(start: SeasonStart) -> Dates:
    """Return every season day a date, in the season that holds 29 February 2000."""
    year = 2000 - (start.leap_slot > SLOTS - 1 - start.offset)
    return np.datetime64(date_of(year, 0, start), "D") + np.arange(SLOTS)


def days_scale(first: np.datetime64, last: np.datetime64) -> alt.Scale:
    """Make a scale of dates, in UTC."""
    return alt.Scale(type="utc", domain=[_moment(first), _moment(last)], nice=False)


def say_day_of_year(day: np.datetime64) -> str:
    """Write a date without its year."""
    date: dt.date = day.astype("datetime64[D]").astype(object)
    return f"{date.day} {date:%b}"


def say_place(station: Station | None) -> str:
    """Begin a line below a title with the station's name."""
    return "" if station is None else f"{station.name or station.id}; "


def finish(chart: AnyChart) -> AnyChart:
    """Return a whole chart its fonts, colours and margins."""
    axis = alt.AxisConfig(
        labelFontSize=12,
        titleFontSize=13,
        titleFontWeight="normal",
        labelColor=INK,
        titleColor=INK,
        gridColor="#EFEFEF",
        domainColor="#BBBBBB",
        tickColor="#BBBBBB",
    )
    title = alt.TitleConfig(
        anchor="start", fontSize=17, subtitleFontSize=13, color=INK, subtitleColor=GREY, offset=14
    )
    finished: AnyChart = chart.configure(
        background="white",
        padding=12,
        view=alt.ViewConfig(stroke=None),
        title=title,
        axis=axis,
        axisY=alt.AxisConfig(minExtent=44),
    )
    return finished


def _moment(day: np.datetime64) -> alt.DateTime:
    date: dt.date = day.astype("datetime64[D]").astype(object)
    return alt.DateTime(year=date.year, month=date.month, date=date.day, utc=True)


def draw_frost_dates(
    frosts: FrostDates, unit: TemperatureUnit, *, station: Station | None = None
) -> alt.LayerChart:
    """Draw each season's frost as a dot, year by date; seasons without one and unknown ones on the axis."""
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


def save_chart(chart: alt.TopLevelMixin, path: Path) -> None:
    """Write a chart as PNG, twice as fine as on the screen, or as SVG; a file is whole or not there."""
    if path.suffix.lower() not in (".png", ".svg"):
        raise InputError(
            "no such form of chart",
            file=path,
            value=path.suffix or None,
            remedy="End its name in .png or .svg.",
        )
    content = _render(chart, path.suffix.lower())
    unfinished = path.with_name(f".{secrets.token_hex(8)}{path.suffix}")
    try:
        unfinished.write_bytes(content)
        unfinished.replace(path)
    except OSError as fault:
        raise InputError(
            "cannot be written",
            file=path,
            value=fault.strerror,
            remedy="Name a folder that can be written to.",
        ) from None
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink()


def _render(chart: alt.TopLevelMixin, suffix: str) -> bytes:
    if suffix == ".svg":
        text = io.StringIO()
        chart.save(text, format="svg")
        return text.getvalue().encode()
    picture = io.BytesIO()
    chart.save(picture, format="png", scale_factor=2)
    return picture.getvalue()
