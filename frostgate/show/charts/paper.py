"""What all charts share: paper and colours, axes of dates and of risk, lines, words beside them, files.

One definition of a chart serves notebook, PNG and SVG. A curve belongs to no year, so its dates are drawn in
the season that holds 29 February 2000. Scales are in UTC: in a browser's own time zone a day could slip back
to the evening before.
"""

from __future__ import annotations

import datetime as dt
import io
import struct
import zlib
from collections.abc import Iterable, Sequence
from itertools import cycle, islice, product
from pathlib import Path
from typing import Any, TypeVar

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.records import Station
from frostgate.seasons import SLOTS, Dates, Floats, SeasonStart, date_of
from frostgate.show.say import say_month_day

# Of the colours of Okabe and Ito for every kind of colour vision, as given by Wong (2011),
# doi:10.1038/nmeth.1618, those that stand out from white by 3:1, as graphics must (WCAG 2.1, 1.4.11).
COLORS = BLUE, VERMILLION, BLACK, PURPLE, GREEN = ("#0072B2", "#D55E00", "#000000", "#CC79A7", "#009E73")
DASHES = ((1, 0), (8, 3), (2, 2), (8, 3, 2, 3), (14, 4))
LOOKS = tuple((color, dash) for dash, color in product(DASHES, COLORS))
INK, GREY, PALE = "#222222", "#666666", "#DDDDDD"
PNG_HEAD = 33  # bytes: the signature and IHDR, behind which a chunk of text may stand (PNG, W3C 2003, 5.3)
WIDTH, HEIGHT = 760, 370  # of the plot alone [px]
LINE = 16  # height of a line of text [px]
THEME: dict[str, Any] = {
    "background": "white",
    "padding": 12,
    "view": {"stroke": None},
    "title": {"anchor": "start", "fontSize": 17, "subtitleFontSize": 13, "color": INK, "offset": 14},
    "axis": {"labelFontSize": 12, "titleFontSize": 13, "titleFontWeight": "normal", "gridColor": "#EFEFEF"}
    | {"labelColor": INK, "titleColor": INK, "domainColor": "#BBBBBB", "tickColor": "#BBBBBB"},
    "axisY": {"minExtent": 44},
    "legend": {"labelFontSize": 13, "labelColor": INK, "symbolSize": 500, "offset": 8},
    "line": {"strokeWidth": 2.5},
    "point": {"filled": True, "size": 60, "opacity": 1},
    "text": {"fontSize": 13, "color": INK},
}

Rows = list[dict[str, Any]]
Axes = dict[str, Any]  # of a plot, as Altair's `encode` takes them
AnyChart = TypeVar("AnyChart", alt.LayerChart, alt.HConcatChart, alt.VConcatChart)
Channel = TypeVar("Channel", alt.X, alt.Y)


def legend(**settings: Any) -> alt.Legend:  # noqa: ANN401  # of Altair's legend
    """Make a legend of lines; what stands behind a bar in a line's name, to keep it apart, is not told."""
    label = "split(datum.label, '|')[0]"
    return alt.Legend(title=None, symbolType="stroke", symbolStrokeWidth=2.5, labelExpr=label, **settings)


LEGEND = legend(orient="top")


def finish(chart: AnyChart) -> AnyChart:
    """Return a whole chart in the house's theme; each of its panels has colours and a legend of its own."""
    if not isinstance(chart, alt.LayerChart):
        chart = chart.resolve_scale(color="independent", strokeDash="independent")
    themed: AnyChart = chart.configure(**THEME)
    return themed


def chart_of(rows: Rows) -> alt.Chart:
    """Start a chart from rows of data."""
    chart: alt.Chart = alt.Chart(alt.InlineData(values=rows))
    return chart


def layer_chart(
    layers: Sequence[alt.Chart],
    title: str,
    subtitle: Sequence[str],
    size: tuple[int, int] = (WIDTH, HEIGHT),
    *,
    color: str = GREY,
) -> alt.LayerChart:
    """Lay layers over one another on paper of that size [px], below a title and lines in that colour."""
    heading = alt.TitleParams(title, subtitle=list(subtitle), subtitleColor=color)
    return alt.LayerChart(layer=list(layers), width=size[0], height=size[1], title=heading)


def date_axis(
    channel: type[Channel], first: np.datetime64, last: np.datetime64, width: int, *, unmarked: int = 0
) -> Channel:
    """Make an axis of dates in UTC, marked as the width of its words allows, save on some first days."""
    days = np.arange(first, last + 1)
    of_month = (days - days.astype("datetime64[M]").astype("datetime64[D]")).astype(int) + 1
    month_px = 30 * width / days.size
    chosen = [1, 8, 15, 22] if month_px >= 260 else [1, 15] if month_px >= 125 else [1]
    marked = [moment(day) for day in days[unmarked:][np.isin(of_month, chosen)[unmarked:]]]
    axis = alt.Axis(format="%-d %b", values=marked, labelFlush=False)
    scale = alt.Scale(type="utc", domain=[moment(first), moment(last)], nice=False)
    return channel("date:T", title=None, scale=scale, axis=axis)


def percent_axis(
    channel: type[Channel], field: str, title: str, domain: tuple[float, float], ticks: int | list[float]
) -> Channel:
    """Make an axis that writes shares as percentages, at some ticks or at about so many."""
    chosen: dict[str, Any] = {"tickCount": ticks} if isinstance(ticks, int) else {"values": ticks}
    label = "format(datum.value * 100, '.0f') + ' %'"
    axis = alt.Axis(labelExpr=label, labelFlush=False, grid=False, **chosen)
    return channel(field, title=title, scale=alt.Scale(domain=list(domain), nice=False), axis=axis)


def moment(day: np.datetime64) -> alt.DateTime:
    """Return a day as Vega reads it, in UTC."""
    date: dt.date = day.astype("datetime64[D]").astype(object)
    return alt.DateTime(year=date.year, month=date.month, date=date.day, utc=True)


def season_dates(start: SeasonStart) -> Dates:
    """Return every season day as a date, in the season that holds 29 February 2000."""
    year = 2000 - (start.leap_slot > SLOTS - 1 - start.offset)
    return np.datetime64(date_of(year, 0, start), "D") + np.arange(SLOTS)


def draw_lines(
    lines: Sequence[tuple[str, Dates, Floats]],
    axes: Axes,
    looks: Iterable[tuple[str, Sequence[int]]] = LOOKS,
    legend: alt.Legend = LEGEND,
) -> list[alt.Chart]:
    """Draw lines of risk against date in their colours and dashes, with a legend."""
    if not lines:
        return []
    rows = [
        {"line": name, "date": str(date), "risk": float(at), "day": say_month_day(f"{date}"[5:])}
        for name, dates, risk in lines
        for date, at in zip(dates, risk, strict=True)
    ]
    names, worn = [name for name, *_ in lines], list(islice(cycle(looks), len(lines)))
    colors = alt.Scale(domain=names, range=[color for color, _ in worn])
    dashes = alt.Scale(domain=names, range=[list(dash) for _, dash in worn])
    drawn = chart_of(rows).encode(
        **axes,
        color=alt.Color("line:N", scale=colors, legend=legend),
        strokeDash=alt.StrokeDash("line:N", scale=dashes, legend=legend),
        tooltip=[alt.Tooltip("day:N", title="date"), alt.Tooltip("risk:Q", format=".0%")],
    )
    return [drawn.mark_line()]


def write_beside(rows: Rows, width: int = WIDTH, color: str = GREY) -> alt.Chart:
    """Write small texts to the right of the plot."""
    texts: alt.Chart = chart_of(rows).mark_text(align="left", dx=7, fontSize=12, color=color)
    return texts.encode(x=alt.value(width), text="text:N")


def say_place(station: Station | None) -> str:
    """Begin a line below a title with the station's name."""
    return "" if station is None else f"{station.name or station.id}; "


def say_range(numbers: Sequence[int]) -> str:
    """Write the least and the most of some numbers, or the one that all are."""
    least, most = min(numbers), max(numbers)
    return f"{most}" if least == most else f"{least} to {most}"


def chart_bytes(chart: alt.TopLevelMixin, path: Path) -> bytes:
    """Draw a chart as the file's name asks, SVG or PNG twice as fine as on the screen, with our mark."""
    form = path.suffix.lower()
    if form not in {".png", ".svg"}:
        remedy = "End its name in .png or .svg."
        raise InputError("no such form of chart", file=path, value=path.suffix or None, remedy=remedy)
    is_png = form == ".png"
    picture = io.BytesIO() if is_png else io.StringIO()
    chart.save(picture, format="png" if is_png else "svg", scale_factor=2)
    drawn = picture.getvalue()
    if isinstance(drawn, str):
        return drawn.replace(">", "><!-- Generator: frostgate -->", 1).encode()
    mark = b"tEXtSoftware\0frostgate"
    chunk = struct.pack(">I", len(mark) - 4) + mark + struct.pack(">I", zlib.crc32(mark))
    return drawn[:PNG_HEAD] + chunk + drawn[PNG_HEAD:]
