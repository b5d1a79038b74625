"""The last frosts of several places as one chart, each line labelled at its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import cycle, product

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.records import FrostCurve
from frostgate.seasons import NORTH, SLOTS, SeasonStart
from frostgate.show.charts.curves import COLOR, LINE, Line, draw_lines
from frostgate.show.charts.paper import (
    HEIGHT,
    INK,
    PALE,
    Frame,
    Rows,
    chart_of,
    finish,
    layer_chart,
    season_dates,
    write_beside,
)
from frostgate.units import TemperatureUnit, say_share, say_temperature

# Of the house's colours those that stand out from white by 3:1, as graphics must (WCAG 2.1, 1.4.11); after
# five lines the dashes change.
COLORS = ("#0072B2", "#D55E00", "#000000", "#CC79A7", "#009E73")
DASHES = ((1, 0), (8, 3), (2, 2))
CAPITAL, SMALL = 9.5, 7.2  # breadth of letters at the size of labels, on the safe side [px]
LONGEST = 40  # letters of a label
EDGE = 0.005  # of a curve's height, left out at both its ends
MARGIN_DAYS = 7
MARKED = (0.1, 0.5, 0.9)
TICKS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
TITLE = "Last frost of spring, place by place"
INDENT = 5  # from a line's end to its label [px]


def draw_comparison(
    curves: Sequence[tuple[str, FrostCurve]], unit: TemperatureUnit, *, risk: float | None = None
) -> alt.LayerChart | alt.VConcatChart:
    """Draw the risk of a frost after each date for several places.

    Each line ends where its risk is gone and goes down from there to its label. Places of the north and of
    the south, whose springs are half a year apart, stand in two panels.
    """
    if not curves:
        raise InputError("no curve to draw", remedy="Name places with more known seasons.")
    if any(curve.side != "spring" for _, curve in curves):
        raise InputError("places are compared by their last frosts of spring")
    starts = sorted({curve.start for _, curve in curves}, key=lambda start: start != NORTH)
    panels = [
        _draw_panel([named for named in curves if named[1].start == start], unit, risk, title)
        for start, title in zip(starts, _titles(starts), strict=True)
    ]
    return finish(panels[0]) if len(panels) == 1 else finish(alt.vconcat(*panels, spacing=30))


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A label below the end of a line.

    Parameters
    ----------
    text
        What it says.
    x
        Of the line's end [px].
    row
        How far down it stands, 1 the highest.
    """

    text: str
    x: float
    row: int = 1

    @property
    def right(self) -> float:
        """Where its text ends [px]."""
        return self.x + INDENT + sum(CAPITAL if letter.isupper() else SMALL for letter in self.text)


def place_labels(ends: Sequence[tuple[str, float]]) -> tuple[Label, ...]:
    """Return each line's end a row for its label, so that no label meets another, nor another's line.

    An end further to the left goes further down: lines that go down to their labels then never pass through
    one.
    """
    placed = dict[int, Label]()
    for index in sorted(range(len(ends)), key=lambda index: (-ends[index][1], index)):
        label = Label(text=ends[index][0], x=ends[index][1])
        met = [other.row for other in placed.values() if other.x <= label.right + INDENT]
        placed[index] = Label(text=label.text, x=label.x, row=1 + max(met, default=0))
    return tuple(placed[index] for index in range(len(ends)))


def _titles(starts: Sequence[SeasonStart]) -> tuple[str, ...]:
    if len(starts) == 1:
        return (TITLE,)
    return tuple(f"{TITLE}: {'north' if start == NORTH else 'south'}" for start in starts)


def _draw_panel(
    curves: Sequence[tuple[str, FrostCurve]], unit: TemperatureUnit, risk: float | None, title: str
) -> alt.LayerChart:
    named = [(_name(name, curve, curves, unit), curve) for name, curve in curves]
    drawn = [(name, curve) for name, curve in named if curve.risk.any()]
    last_days = _ends_apart([curve for _, curve in drawn])
    dates, (first, last) = season_dates(curves[0][1].start), _span([curve for _, curve in drawn], last_days)
    lines = [
        Line(text="", dates=dates[first : end + 1], risk=curve.risk[first : end + 1], color=color, dash=dash)
        for end, (_, curve), (dash, color) in zip(
            last_days, drawn, cycle(product(DASHES, COLORS)), strict=False
        )
    ]
    frame = Frame(first=dates[first], last=dates[last])
    ends = frame.across(np.array([line.dates[-1] for line in lines], dtype="datetime64[D]"))
    labels = place_labels([(name, float(x)) for (name, _), x in zip(drawn, ends, strict=True)])
    band = LINE * max((label.row for label in labels), default=0) + LINE * 3 // 4
    y = _risk_axis(band)
    layers = [
        *_draw_rules(frame, y, risk),
        *draw_lines(lines, frame, y, inline=True),
        *_draw_labels(lines, labels, frame, y),
    ]
    subtitle = [_say_source(curves, unit), *_say_never(named)]
    below = replace(frame, height=HEIGHT + band)
    return layer_chart(layers, below, alt.TitleParams(title, subtitle=subtitle))


def _name(
    name: str, curve: FrostCurve, curves: Sequence[tuple[str, FrostCurve]], unit: TemperatureUnit
) -> str:
    """Shorten a name to what a label holds, and add the threshold where places differ in it."""
    short = name if len(name) <= LONGEST else f"{name[: LONGEST - 1]}…"
    return f"{short}, {say_temperature(curve.threshold_c, unit)}" if _differ(curves) else short


def _differ(curves: Sequence[tuple[str, FrostCurve]]) -> bool:
    return len({round(curve.threshold_c, 3) for _, curve in curves}) > 1


def _end(curve: FrostCurve) -> int:
    """Return the first day on which a curve's risk is all but gone."""
    return min(int(np.flatnonzero(curve.risk > EDGE * curve.risk.max())[-1]) + 1, SLOTS - 1)


def _ends_apart(curves: Sequence[FrostCurve]) -> list[int]:
    """Return the day on which each line ends, no two on one: the other goes on along the bottom."""
    ends, taken = [_end(curve) for curve in curves], -1
    for index in sorted(range(len(ends)), key=lambda index: (ends[index], index)):
        ends[index] = taken = min(max(ends[index], taken + 1), SLOTS - 1)
    return ends


def _span(curves: Sequence[FrostCurve], last_days: Sequence[int]) -> tuple[int, int]:
    """Return the season days between which the curves fall, with a margin; the whole season without any."""
    if not curves:
        return 0, SLOTS - 1
    falls = [int(np.argmax(curve.risk < (1 - EDGE) * curve.risk[0])) for curve in curves]
    return max(min(falls) - MARGIN_DAYS, 0), min(max(last_days) + MARGIN_DAYS, SLOTS - 1)


def _risk_axis(band: int) -> alt.Y:
    """Make the axis of risk, with a band for the labels [px] below 0."""
    axis = alt.Axis(labelExpr="format(datum.value * 100, '.0f') + ' %'", grid=False, values=list(TICKS))
    scale = alt.Scale(domain=[-band / HEIGHT, 1.0], nice=False)
    return alt.Y("risk:Q", title="chance of a frost after this date", scale=scale, axis=axis)


def _draw_rules(frame: Frame, y: alt.Y, risk: float | None) -> list[alt.Chart]:
    texts = ("1 spring in 10", "1 spring in 2", "9 springs in 10")
    rows: Rows = [{"risk": share, "text": text} for share, text in zip(MARKED, texts, strict=True)]
    rows.append({"risk": 0.0, "text": ""})
    if risk is not None:
        rows = [row for row in rows if abs(row["risk"] - risk) * HEIGHT >= LINE or not row["text"]]
        rows.append({"risk": risk, "text": f"your limit {say_share(risk)}"})
    return [
        chart_of(rows).mark_rule(color=PALE).encode(y=y),
        write_beside(rows, frame.width).encode(y=y),
    ]


def _draw_labels(lines: Sequence[Line], labels: Sequence[Label], frame: Frame, y: alt.Y) -> list[alt.Chart]:
    """Draw a thin line from each end down to its label."""
    rows = [
        {
            "date": str(line.dates[-1]),
            "risk": -label.row * LINE / HEIGHT,
            "end": 0.0,
            "text": label.text,
            "color": line.color,
        }
        for line, label in zip(lines, labels, strict=True)
    ]
    if not rows:
        return []
    base = chart_of(rows).encode(x=frame.x(), y=y)
    return [
        base.mark_rule(strokeWidth=1.5).encode(y2="end:Q", color=COLOR),
        base.mark_text(align="left", dx=INDENT, fontSize=13, color=INK).encode(text="text:N"),
    ]


def _say_source(curves: Sequence[tuple[str, FrostCurve]], unit: TemperatureUnit) -> str:
    """Tell what counts as a frost, and on how many springs the curves rest."""
    frost = "frost: the minimum beside each name"
    if not _differ(curves):
        frost = say_temperature(curves[0][1].threshold_c, unit)
    least, most = (pick(curve.seasons_used for _, curve in curves) for pick in (min, max))
    springs = f"{most} springs" if least == most else f"{least} to {most} springs each"
    return f"{frost} or less at the station; {springs}"


def _say_never(named: Sequence[tuple[str, FrostCurve]]) -> list[str]:
    names = [name for name, curve in named if not curve.risk.any()]
    return [f"No such frost in any known spring: {', '.join(names)}"] if names else []
