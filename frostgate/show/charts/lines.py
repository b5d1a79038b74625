"""Lines of risk with their labels, each written where it meets fewest others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt
import numpy as np

from frostgate.show.charts.paper import INK, Frame, Rows, chart_of, say_day_of_year
from frostgate.terms import Dates, Floats
from frostgate.values import dataclass

LETTER, LINE, AIR = 6.6, 16, 8  # a letter's mean width, a line's height, and room between two labels [px]
COLOR = alt.Color("color:N", scale=None)
BESIDE: dict[str, Any] = {"align": "left", "dx": 7, "dy": -14}
NO_ROWS: Rows = []

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line of risk against date, with its label and its look.

    Examples
    --------
    >>> Line(text="32 °F", dates=np.empty(0, "datetime64[D]"), risk=np.empty(0), color="#000000").width
    2.5
    """

    text: str
    dates: Dates
    risk: Floats
    color: str
    dash: tuple[int, int] = (1, 0)
    width: float = 2.5


def draw_lines(
    lines: Sequence[Line], frame: Frame, y: alt.Y, taken: Rows = NO_ROWS, *, inline: bool
) -> list[alt.Chart]:
    """Draw lines and, on or beside each, its label.

    Parameters
    ----------
    lines
        The lines, each with its label; an empty one is not written.
    frame, y
        Where they are drawn.
    taken
        Texts that the labels must not meet.
    inline
        Whether a label stands on its line, or beside it.

    Examples
    --------
    >>> days = np.arange("2026-04-01", "2026-05-01", dtype="datetime64[D]")
    >>> line = Line(text="32 °F", dates=days, risk=np.linspace(1, 0, 30), color="#000000")
    >>> frame = Frame(first=days[0], last=days[-1])
    >>> [layer.mark.type for layer in draw_lines([line], frame, frame.y("risk"), inline=True)]
    ['line', 'text', 'text']
    """
    x = frame.x()
    tip = [alt.Tooltip("day:N", title="date"), alt.Tooltip("risk:Q", format=".0%")]
    layers = [
        chart_of(_line_rows(line))
        .mark_line(color=line.color, strokeDash=list(line.dash), strokeWidth=line.width)
        .encode(x=x, y=y, tooltip=tip)
        for line in lines
    ]
    labels = _place_labels(lines, frame, taken, inline=inline)
    return [*layers, *write_texts(labels, frame, y, {} if inline else BESIDE, halo=7)]


def draw_points(points: Rows, frame: Frame, y: alt.Y) -> list[alt.Chart]:
    """Draw points, each in its own colour.

    Examples
    --------
    >>> days = np.arange("2026-04-01", "2026-05-01", dtype="datetime64[D]")
    >>> frame = Frame(first=days[0], last=days[-1])
    >>> draw_points([], frame, frame.y("risk"))
    []
    """
    at = chart_of(points).mark_point(filled=True, size=55, opacity=1)
    return [at.encode(x=frame.x(), y=y, color=COLOR)] if points else []


def write_texts(
    rows: Rows, frame: Frame, y: alt.Y, side: dict[str, Any], *, halo: int = 0
) -> list[alt.Chart]:
    """Write texts on or beside their places, parted by a white halo from the lines below them.

    Examples
    --------
    >>> days = np.arange("2026-04-01", "2026-05-01", dtype="datetime64[D]")
    >>> frame = Frame(first=days[0], last=days[-1])
    >>> write_texts([], frame, frame.y("risk"), BESIDE)
    []
    """
    if not rows:
        return []
    texts = chart_of(rows).encode(x=frame.x(), y=y, text="text:N")
    below = [texts.mark_text(stroke="white", strokeWidth=halo, strokeJoin="round", fontSize=13, **side)]
    return [*(below if halo else []), texts.mark_text(fontSize=13, **side).encode(color=COLOR)]


def _line_rows(line: Line) -> Rows:
    return [
        {"date": str(date), "risk": float(risk), "day": say_day_of_year(date)}
        for date, risk in zip(line.dates, line.risk, strict=True)
    ]


def _place_labels(lines: Sequence[Line], frame: Frame, taken: Rows, *, inline: bool) -> Rows:
    """Choose for each line's label the highest spot at which it meets fewest labels and lines."""
    boxes = [_box(frame, np.datetime64(row["date"]), row["risk"], row["text"], inline=False) for row in taken]
    rows: Rows = []
    for line in lines:
        if not line.text:
            continue
        others = [other for other in lines if other is not line]
        upper = 0.86 if others else 0.72  # a line alone has its date at 90 % marked
        spots = [(line.dates[k], float(line.risk[k])) for k in _spots(line.risk, upper)]
        choice = [_box(frame, date, risk, line.text, inline=inline) for date, risk in spots]
        costs = [
            3 * sum(_meet(box, other) for other in boxes)
            + 3 * (box[0] < 0 or box[1] > frame.width)
            + sum(_nearness(other, frame, box) for other in others)
            for box in choice
        ]
        best = int(np.argmin(costs))
        boxes.append(choice[best])
        date, risk = spots[best]
        color = INK if inline else line.color
        rows.append({"date": str(date), "risk": risk, "text": line.text, "color": color})
    return rows


def _spots(risk: Floats, upper: float) -> list[int]:
    """Give the places on a line where its label may stand, from its upper end to its lower."""
    return [int(np.argmin(np.abs(risk - share * risk.max()))) for share in np.arange(upper, 0.1, -0.04)]


def _box(frame: Frame, date: np.datetime64, risk: float, text: str, *, inline: bool) -> Box:
    """Give left, right, top and bottom of a label [px]."""
    x, y = float(frame.across(np.array([date]))[0]), (1 - risk / frame.top) * frame.height
    length = LETTER * len(text)
    if inline:
        return x - length / 2, x + length / 2, y - LINE / 2, y + LINE / 2
    return x, x + BESIDE["dx"] + length, y + BESIDE["dy"] - LINE / 2, y + BESIDE["dy"] + LINE / 2


def _meet(one: Box, other: Box) -> bool:
    across = one[0] < other[1] and other[0] < one[1]
    return across and one[2] - AIR < other[3] and other[2] - AIR < one[3]


def _nearness(line: Line, frame: Frame, box: Box) -> float:
    """Tell how much of a label's breadth a line comes near to."""
    columns = np.arange(box[0], box[1])
    height = (1 - np.interp(columns, frame.across(line.dates), line.risk) / frame.top) * frame.height
    return float(np.mean((height > box[2] - 4) & (height < box[3] + 4)))
