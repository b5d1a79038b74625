"""A reliability diagram: risks stated when the gate opened against the share of springs that went wrong."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.records import Station
from frostgate.proof.replay import Openings, Replay
from frostgate.show import paper
from frostgate.units import say_share

WIDTH, HEIGHT = 680, 440  # of the plot alone [px]
ROOM = 1.12  # of the axes beyond the highest interval
LEFT = 0.025  # of the axis of stated risks to the left of 0, for the label of a small limit
LETTER, LINE = 7.5, 18  # a letter's mean width and a line's height [px]
GATE, HABIT = paper.PALETTE[1], paper.PALETTE[0]
READING = (
    "dot: share of springs with a damaging frost after opening at the limit above it; bar: 95 % interval",
    "below the dashed line frosts came less often than stated, on the safe side; above it more often",
)


def draw_reliability(replay: Replay, *, station: Station | None = None) -> alt.LayerChart:
    """Draw, for each limit, the risk stated at opening against the share that came true.

    A gate that means what it says lies on the diagonal, one that errs on the safe side below it. The trade's
    habit states no risk and stands at the right edge.
    """
    if not replay.openings:
        raise InputError("no replayed spring to draw")
    openings = [opened for opened in replay.openings if opened.springs]
    habits = [replay.habit] if replay.habit.springs else []
    highest = [float(np.fmax(opened.interval[1], opened.stated_mean)) for opened in (*openings, *habits)]
    top = min(ROOM * max(highest, default=1.0), 1.0)  # of both axes
    ends = [{"stated": risk, "came": risk} for risk in (0.0, top)]
    diagonal = paper.chart_of(ends).mark_line(color=paper.GREY, strokeDash=[6, 4], strokeWidth=1.5)
    layers = [
        diagonal.encode(x=_x(top), y=_y("came", top)),
        paper.write_beside([{"text": "as often as stated"}], WIDTH).encode(y=alt.value(-8)),
        *(_draw_limits(_limit_rows(openings, top), top) if openings else []),
        *(layer for habit in habits for layer in _draw_habit(habit, top)),
    ]
    springs = f"{replay.springs.years.size} springs, each judged by the others"
    subtitle = [
        f"{paper.say_place(station)}{springs}; forecasts of {replay.horizon} nights are drawn",
        *(READING if openings else ("the gate opened in none of these springs, whatever the limit",)),
    ]
    title = "Does the stated risk come true?"
    return paper.finish(paper.layer_chart(layers, title, subtitle, (WIDTH, HEIGHT)))


def _limit_rows(openings: Sequence[Openings], top: float) -> paper.Rows:
    """Return each limit's point and bar, its label above the bar, and above any label that is near."""
    rows: paper.Rows = []
    for opened in openings:
        stated, text, (low, high) = opened.stated_mean, say_share(opened.risk), opened.interval
        label = high + 0.6 * LINE / HEIGHT * top
        for other in rows:
            apart_px = abs(stated - other["stated"]) * WIDTH / (1 + LEFT) / top
            if apart_px < LETTER * (len(text) + len(other["text"])) / 2:
                label = max(label, other["label"] + LINE / HEIGHT * top)
        row = {"stated": stated, "came": opened.realised, "low": low, "high": high}
        rows.append({**row, "text": text, "label": label})
    return rows


def _x(top: float) -> alt.X:
    scale = alt.Scale(domain=[-LEFT * top, top], nice=False)
    axis = paper.percent_axis(tickCount=6, labelFlush=False)
    return alt.X("stated:Q", title="risk stated on the morning the gate opened", scale=scale, axis=axis)


def _y(field: str, top: float) -> alt.Y:
    title, scale = "share of springs in which a damaging frost came", alt.Scale(domain=[0.0, top], nice=False)
    return alt.Y(f"{field}:Q", title=title, scale=scale, axis=paper.percent_axis(tickCount=6))


def _draw_limits(rows: paper.Rows, top: float) -> list[alt.Chart]:
    base = paper.chart_of(rows).encode(x=_x(top))
    shares = (alt.Tooltip(f"{name}:Q", format=".1%") for name in ("stated", "came", "low", "high"))
    tip = [alt.Tooltip("text:N", title="limit"), *shares]
    return [
        base.mark_rule(color=GATE, strokeWidth=2).encode(y=_y("low", top), y2="high:Q"),
        base.mark_point(filled=True, size=80, color=GATE, opacity=1).encode(y=_y("came", top), tooltip=tip),
        *paper.write_texts(rows, _x(top), _y("label", top), halo=5),
    ]


def _draw_habit(habit: Openings, top: float) -> list[alt.Chart]:
    (low, high), came = habit.interval, habit.realised
    words = ["the trade's habit", f"{say_share(came)} went wrong"]
    row = {"came": came, "low": low, "high": high, "text": words}
    dy = 12 if came > 0.9 * top else -6  # below the diagonal's own label
    base = paper.chart_of([row]).encode(x=alt.value(WIDTH))
    point = base.mark_point(
        shape="diamond", size=130, filled=False, fill="white", strokeWidth=2.5, color=HABIT, opacity=1
    )
    beside = base.mark_text(align="left", dx=12, dy=dy, fontSize=12, color=HABIT)
    return [
        base.mark_rule(color=HABIT, strokeWidth=2, strokeDash=[3, 3]).encode(y=_y("low", top), y2="high:Q"),
        point.encode(y=_y("came", top)),
        beside.encode(y=_y("came", top), text="text:N"),
    ]
