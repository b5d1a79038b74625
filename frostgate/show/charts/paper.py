"""What every chart is drawn on: sizes, colours, axes and fonts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, TypeVar

import altair as alt
import numpy as np

from frostgate.seasons import SLOTS, SeasonStart, date_of
from frostgate.terms import Dates, Floats, Station
from frostgate.values import dataclass

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

    Examples
    --------
    >>> days = np.arange("2026-04-01", "2026-05-01", dtype="datetime64[D]")
    >>> Frame(first=days[0], last=days[-1], width=290).across(days[:3])
    array([ 0., 10., 20.])
    """

    first: np.datetime64
    last: np.datetime64
    width: int = WIDTH
    height: int = HEIGHT
    top: float = 1.0
    from_first: bool = False  # whether the axis of dates counts weeks from its first day

    def across(self, dates: Dates) -> Floats:
        """Place dates in the plot [px].

        Examples
        --------
        >>> days = np.array(["2026-04-01", "2026-05-01"], dtype="datetime64[D]")
        >>> Frame(first=days[0], last=days[1]).across(days)
        array([  0., 760.])
        """
        share = (dates - self.first).astype(float) / (self.last - self.first).astype(float)
        return np.asarray(share * self.width, dtype=np.float64)

    def ticks(self, room: float) -> list[alt.DateTime]:
        """Choose days of the months, so many that each has ``room`` [px].

        Examples
        --------
        >>> len(Frame(first=np.datetime64("2026-04-01"), last=np.datetime64("2026-05-20")).ticks(60))
        7
        """
        days = np.arange(self.first, self.last + 1)
        wanted = self.width / days.size / room * 30
        if self.from_first:
            return [_moment(day) for day in days[:: 7 * max(1, round(4.3 / wanted))]]
        of_month = [1, 8, 15, 22] if wanted >= 4.3 else [1, 15] if wanted >= 2.1 else [1]
        in_month = (days - days.astype("datetime64[M]").astype("datetime64[D]")).astype(int) + 1
        return [_moment(day) for day in days[np.isin(in_month, of_month)]]

    def x(self) -> alt.X:
        """Make the axis of dates.

        Examples
        --------
        >>> Frame(first=np.datetime64("2026-04-01"), last=np.datetime64("2026-05-01")).x().shorthand
        'date:T'
        """
        axis = alt.Axis(format="%-d %b", values=self.ticks(60), labelFlush=False)
        return alt.X("date:T", title=None, scale=days_scale(self.first, self.last), axis=axis)

    def y(self, title: str, ticks: Sequence[float] = ()) -> alt.Y:
        """Make the axis of risk.

        Examples
        --------
        >>> Frame(first=np.datetime64("2026-04-01"), last=np.datetime64("2026-05-01")).y("risk").shorthand
        'risk:Q'
        """
        values = {"values": list(ticks)} if ticks else {"tickCount": 5}
        axis = alt.Axis(labelExpr="format(datum.value * 100, '.0f') + ' %'", grid=False, **values)
        return alt.Y("risk:Q", title=title, scale=alt.Scale(domain=[0, self.top], nice=False), axis=axis)


def chart_of(rows: Rows) -> alt.Chart:
    """Start a chart from rows of data.

    Examples
    --------
    >>> chart_of([{"x": 1}]).data.values
    [{'x': 1}]
    """
    chart: alt.Chart = alt.Chart(alt.InlineData(values=rows))
    return chart


def layer_chart(layers: list[alt.Chart], frame: Frame, title: alt.TitleParams) -> alt.LayerChart:
    """Lay layers over one another in a frame.

    Examples
    --------
    >>> days = np.arange("2026-04-01", "2026-05-01", dtype="datetime64[D]")
    >>> layer_chart([], Frame(first=days[0], last=days[-1]), alt.TitleParams("x")).width
    760
    """
    return alt.LayerChart(layer=layers, width=frame.width, height=frame.height, title=title)


def write_beside(rows: Rows, width: int, color: str = GREY) -> alt.Chart:
    """Write small texts to the right of the plot.

    Examples
    --------
    >>> write_beside([{"text": "limit"}], 760).mark.align
    'left'
    """
    texts: alt.Chart = chart_of(rows).mark_text(align="left", dx=7, fontSize=12, color=color)
    return texts.encode(x=alt.value(width), text="text:N")


def season_dates(start: SeasonStart) -> Dates:
    """Give every season day a date, in the season that holds 29 February 2000.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> season_dates(NORTH)[[0, 212]]
    array(['1999-08-01', '2000-02-29'], dtype='datetime64[D]')
    """
    year = 2000 - (start.leap_slot > SLOTS - 1 - start.offset)
    return np.datetime64(date_of(year, 0, start), "D") + np.arange(SLOTS)


def days_scale(first: np.datetime64, last: np.datetime64) -> alt.Scale:
    """Make a scale of dates, in UTC.

    Examples
    --------
    >>> days_scale(np.datetime64("2026-04-01"), np.datetime64("2026-05-01")).type
    'utc'
    """
    return alt.Scale(type="utc", domain=[_moment(first), _moment(last)], nice=False)


def say_day_of_year(day: np.datetime64) -> str:
    """Write a date without its year.

    Examples
    --------
    >>> say_day_of_year(np.datetime64("2000-04-07"))
    '7 Apr'
    """
    date: dt.date = day.astype("datetime64[D]").astype(object)
    return f"{date.day} {date:%b}"


def say_place(station: Station | None) -> str:
    """Begin a line below a title with the station's name.

    Examples
    --------
    >>> say_place(Station(id="X")), say_place(None)
    ('X; ', '')
    """
    return "" if station is None else f"{station.name or station.id}; "


def finish(chart: AnyChart) -> AnyChart:
    """Give a whole chart its fonts, colours and margins.

    Examples
    --------
    >>> finish(alt.vconcat()).config.padding
    12
    """
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
