"""The last frosts of several places as one chart, each line labelled at its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import cycle, product
from typing import NamedTuple

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.curves import FrostCurve
from frostgate.seasons import NORTH, SLOTS, Dates
from frostgate.show import paper
from frostgate.show.charts.curves import AXES, EDGE, TICKS, draw_rules, moving_days
from frostgate.units import TemperatureUnit, say_temperature

# Of the house's colours those that stand out from white by 3:1, as graphics must (WCAG 2.1, 1.4.11).
COLORS = ("#0072B2", "#D55E00", "#000000", "#CC79A7", "#009E73")
LOOKS = tuple((color, dash) for dash, color in product(paper.DASHES, COLORS))
CAPITAL, SMALL = 9.5, 7.2  # breadth of letters at the size of labels, on the safe side [px]
LONGEST = 40  # letters of a label
INDENT = 5  # from a line's end to its label [px]
TITLE = "Last frost of spring, place by place"

Named = tuple[str, FrostCurve]


def draw_comparison(
    curves: Sequence[Named], unit: TemperatureUnit, *, risk: float | None = None
) -> alt.LayerChart | alt.VConcatChart:
    """Draw the risk of a frost after each date for several places.

    Each line ends where its risk is gone and goes down from there to its label. Places of the north and of
    the south, whose springs are half a year apart, stand in two panels.
    """
    if not curves:
        raise InputError("no curve to draw", remedy="Name places with more known seasons.")
    if any(curve.side != "spring" for _, curve in curves):
        raise InputError("places are compared by their last frosts of spring")
    sides = {
        "north": [named for named in curves if named[1].start == NORTH],
        "south": [named for named in curves if named[1].start != NORTH],
    }
    if not all(sides.values()):
        return paper.finish(_draw_panel(curves, unit, risk, TITLE))
    panels = [_draw_panel(there, unit, risk, f"{TITLE}: {side}") for side, there in sides.items()]
    return paper.finish(alt.vconcat(*panels, spacing=30))


class Label(NamedTuple):
    """A label below the end of a line."""

    text: str
    x: float  # of the line's end [px]
    row: int = 1  # how far down it stands, 1 the highest

    @property
    def right(self) -> float:
        """Where its text ends [px]."""
        return self.x + INDENT + sum(CAPITAL if letter.isupper() else SMALL for letter in self.text)


def place_labels(ends: Sequence[tuple[str, float]]) -> tuple[Label, ...]:
    """Return a label for each line's end, in a row where it meets no other label, nor another's line.

    An end further to the left goes further down: lines that go down to their labels then never pass through
    one.
    """
    placed = dict[int, Label]()
    for index in sorted(range(len(ends)), key=lambda index: (-ends[index][1], index)):
        label = Label(*ends[index])
        met = [other.row for other in placed.values() if other.x <= label.right + INDENT]
        placed[index] = label._replace(row=1 + max(met, default=0))
    return tuple(placed[index] for index in range(len(ends)))


def _draw_panel(
    curves: Sequence[Named], unit: TemperatureUnit, risk: float | None, title: str
) -> alt.LayerChart:
    differ = len({round(curve.threshold_c, 3) for _, curve in curves}) > 1
    named = [(_name(name, curve, unit if differ else None), curve) for name, curve in curves]
    drawn = [curve for _, curve in named if curve.risk.any()]
    dates, ends = paper.season_dates(curves[0][1].start), _ends_apart(drawn)
    first, last = moving_days(drawn)
    lines = [
        (f"{place}", dates[first : end + 1], curve.by_day[first : end + 1])
        for place, (curve, end) in enumerate(zip(drawn, ends, strict=True))
    ]
    frame = paper.Frame(first=dates[first], last=dates[max([last, *ends])], title=AXES["spring"], risks=TICKS)
    names = [name for name, curve in named if curve.risk.any()]
    labels = place_labels(list(zip(names, frame.across(dates[ends]).tolist(), strict=True)))
    band = paper.LINE * max((label.row for label in labels), default=0) + paper.LINE * 3 // 4  # for them [px]
    frame = replace(frame, height=paper.HEIGHT + band, bottom=-band / paper.HEIGHT)
    layers = [
        *draw_rules(frame, "spring", risk),
        *paper.draw_lines(lines, frame, LOOKS),
        *_draw_labels(labels, dates[ends], frame),
    ]
    frost = "frost: the minimum beside each name"
    if not differ:
        frost = say_temperature(curves[0][1].threshold_c, unit)
    springs = paper.say_range([curve.seasons_used for _, curve in curves])
    each = " each" if "to" in springs else ""
    never = [name for name, curve in named if not curve.risk.any()]
    subtitle = [f"{frost} or less at the station; {springs} springs{each}"]
    subtitle += [f"No such frost in any known spring: {', '.join(never)}"] if never else []
    return paper.layer_chart(layers, title, subtitle, (frame.width, frame.height))


def _name(name: str, curve: FrostCurve, unit: TemperatureUnit | None) -> str:
    """Shorten a name to what a label holds, and add the threshold where places differ in it."""
    short = name if len(name) <= LONGEST else f"{name[: LONGEST - 1]}…"
    return short if unit is None else f"{short}, {say_temperature(curve.threshold_c, unit)}"


def _ends_apart(curves: Sequence[FrostCurve]) -> list[int]:
    """Return the day on which each line's risk is all but gone, no two on one: the other goes on below."""
    ends = [int(np.flatnonzero(curve.by_day > EDGE * curve.by_day.max())[-1]) + 1 for curve in curves]
    taken = -1
    for index in sorted(range(len(ends)), key=lambda index: (ends[index], index)):
        ends[index] = taken = min(max(ends[index], taken + 1), SLOTS - 1)
    return ends


def _draw_labels(labels: Sequence[Label], ends: Dates, frame: paper.Frame) -> list[alt.Chart]:
    """Draw a thin line from each end down to its label."""
    rows = [
        {"date": str(end), "risk": -label.row * paper.LINE / paper.HEIGHT, "end": 0.0, "text": label.text}
        | {"color": color}
        for label, end, (color, _) in zip(labels, ends, cycle(LOOKS), strict=False)
    ]
    if not rows:
        return []
    base = paper.chart_of(rows).encode(x=frame.x, y=frame.y)
    return [
        base.mark_rule(strokeWidth=1.5).encode(y2="end:Q", color=alt.Color("color:N", scale=None)),
        base.mark_text(align="left", dx=INDENT, fontSize=13, color=paper.INK).encode(text="text:N"),
    ]
