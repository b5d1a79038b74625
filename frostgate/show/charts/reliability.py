"""A reliability diagram: risks stated when the gate opened against the share of springs that went wrong."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.records import Station
from frostgate.proof.replay import Openings, Replay
from frostgate.show.charts.paper import GREY, INK, PALETTE, Rows, chart_of, finish, say_place, write_beside
from frostgate.units import say_share

WIDTH, HEIGHT = 680, 440  # of the plot alone [px]
ROOM = 1.12  # of the axes beyond the highest interval
LEFT = 0.025  # of the axis of stated risks to the left of 0, for the label of a small limit
LETTER, LINE = 7.5, 18  # a letter's mean width and a line's height [px]
GATE, HABIT = PALETTE[1], PALETTE[0]


def draw_reliability(replay: Replay, *, station: Station | None = None) -> alt.LayerChart:
    """Draw, for each limit, the risk stated at opening against the share that came true.

    A gate that means what it says lies on the diagonal, one that errs on the safe side below it. The trade's
    habit states no risk and stands at the right edge.
    """
    if not replay.openings:
        raise InputError("no replayed spring to draw")
    openings = tuple(opened for opened in replay.openings if opened.springs)
    habits = (replay.habit,) if replay.habit.springs else ()
    top = _top((*openings, *habits))
    layers = _draw_diagonal(top)
    layers += _draw_limits(_limit_rows(openings, top), top) if openings else []
    layers += [layer for habit in habits for layer in _draw_habit(habit, top)]
    springs = f"{replay.springs.years.size} springs, each judged by the others"
    reading = (
        "dot: share of springs with a damaging frost after opening at the limit above it; bar: 95 % interval",
        "below the dashed line frosts came less often than stated, on the safe side; above it more often",
    )
    subtitle = [
        f"{say_place(station)}{springs}; forecasts of {replay.horizon} nights are drawn",
        *(reading if openings else ("the gate opened in none of these springs, whatever the limit",)),
    ]
    title = alt.TitleParams("Does the stated risk come true?", subtitle=subtitle)
    return finish(alt.LayerChart(layer=layers, width=WIDTH, height=HEIGHT, title=title))


def _top(openings: tuple[Openings, ...]) -> float:
    """Choose the highest risk of both axes."""
    highest = [float(np.fmax(opened.interval[1], opened.stated_mean)) for opened in openings]
    return min(ROOM * max(highest, default=1.0), 1.0)


def _limit_rows(openings: tuple[Openings, ...], top: float) -> Rows:
    rows: Rows = []
    for opened in openings:
        low, high = opened.interval
        row = {
            "stated": opened.stated_mean,
            "came": opened.realised,
            "low": low,
            "high": high,
            "text": say_share(opened.risk),
        }
        rows.append({**row, "label": _free_height(row, rows, top)})
    return rows


def _free_height(row: dict[str, Any], placed: Rows, top: float) -> float:
    """Find the height above a bar at which its label meets no other label."""
    to_px_x, to_px_y = WIDTH / (1 + LEFT) / top, HEIGHT / top
    height = float(row["high"]) + 0.6 * LINE / to_px_y
    for other in sorted(placed, key=lambda one: float(one["label"])):
        breadth = LETTER * (len(str(row["text"])) + len(str(other["text"]))) / 2
        near = abs(float(row["stated"]) - other["stated"]) * to_px_x < breadth
        if near and abs(height - other["label"]) * to_px_y < LINE:
            height = other["label"] + LINE / to_px_y
    return height


def _x(top: float) -> alt.X:
    title = "risk stated on the morning the gate opened"
    return alt.X("stated:Q", title=title, **_axis(-LEFT * top, top))


def _y(field: str, top: float) -> alt.Y:
    return alt.Y(f"{field}:Q", title="share of springs in which a damaging frost came", **_axis(0.0, top))


def _axis(first: float, top: float) -> dict[str, Any]:
    label = "format(datum.value * 100, '.0f') + ' %'"
    return {
        "scale": alt.Scale(domain=[first, top], nice=False),
        "axis": alt.Axis(labelExpr=label, grid=False, tickCount=6, labelFlush=False),
    }


def _draw_diagonal(top: float) -> list[alt.Chart]:
    ends = [{"stated": 0.0, "came": 0.0}, {"stated": top, "came": top}]
    line = chart_of(ends).mark_line(color=GREY, strokeDash=[6, 4], strokeWidth=1.5)
    beside = write_beside([{"text": "as often as stated"}], WIDTH).encode(y=alt.value(-8))
    return [line.encode(x=_x(top), y=_y("came", top)), beside]


def _draw_limits(rows: Rows, top: float) -> list[alt.Chart]:
    base = chart_of(rows).encode(x=_x(top))
    tip = [alt.Tooltip("text:N", title="limit"), *(alt.Tooltip(f"{k}:Q", format=".1%") for k in _SHARES)]
    texts = base.encode(y=_y("label", top), text="text:N")
    return [
        base.mark_rule(color=GATE, strokeWidth=2).encode(y=_y("low", top), y2="high:Q"),
        base.mark_point(filled=True, size=80, color=GATE, opacity=1).encode(y=_y("came", top), tooltip=tip),
        texts.mark_text(fontSize=13, stroke="white", strokeWidth=5, strokeJoin="round"),
        texts.mark_text(fontSize=13, color=INK),
    ]


_SHARES = ("stated", "came", "low", "high")


def _draw_habit(habit: Openings, top: float) -> list[alt.Chart]:
    low, high = habit.interval
    rows = [{"came": habit.realised, "low": low, "high": high}]
    label = [
        {"came": habit.realised, "text": ["the trade's habit", f"{say_share(habit.realised)} went wrong"]}
    ]
    base = chart_of(rows).encode(x=alt.value(WIDTH))
    dy = 12 if habit.realised > 0.9 * top else -6  # below the diagonal's own label
    texts = chart_of(label).mark_text(align="left", dx=12, dy=dy, fontSize=12, color=HABIT)
    return [
        base.mark_rule(color=HABIT, strokeWidth=2, strokeDash=[3, 3]).encode(y=_y("low", top), y2="high:Q"),
        base.mark_point(
            shape="diamond", size=130, filled=False, fill="white", strokeWidth=2.5, color=HABIT, opacity=1
        ).encode(y=_y("came", top)),
        texts.encode(x=alt.value(WIDTH), y=_y("came", top), text="text:N"),
    ]
