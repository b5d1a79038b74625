"""The reliability diagram."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.model.records import Station
from frostgate.proof.replay import Openings
from frostgate.show.charts.risks import draw_reliability
from tests.chart_cases import save_chart
from tests.replay_cases import never_opened, opened, replay_with

RISKS = (0.02, 0.05, 0.1, 0.2, 0.3, 0.5)


def came(risk: float, wrong: int, springs: int, stated: float) -> Openings:
    day = np.arange(float(springs))
    return opened(risk, day, day < wrong, stated)


def replay_of(
    wrong: tuple[int, ...], springs: int, habit: int, stated=(0.016, 0.042, 0.085, 0.17, 0.26, 0.42)
):
    rows = tuple(came(*row, springs, share) for *row, share in zip(RISKS, wrong, stated, strict=True))
    return replay_with(rows, came(np.nan, habit, springs, np.nan))


def rows_of(chart, mark: str) -> list[list[dict]]:
    spec = chart.to_dict(validate=False)
    found = [layer for layer in spec["layer"] if layer["mark"]["type"] == mark]
    return [spec["datasets"][layer["data"]["name"]] for layer in found]


REPLAY = replay_of((0, 2, 4, 7, 12, 20), 55, 23)


def test_each_limit_stands_at_what_it_stated_and_what_came_true():
    (dots,) = rows_of(draw_reliability(REPLAY), "point")
    habit, _ = rows_of(draw_reliability(REPLAY), "rule")

    for row, made in zip(dots, REPLAY.openings, strict=True):
        assert (row["stated"], row["came"]) == (pytest.approx(made.stated.mean()), made.realised)
        assert (row["low"], row["high"]) == made.interval
    assert [row["text"] for row in dots] == ["2 %", "5 %", "10 %", "20 %", "30 %", "50 %"]
    assert habit[0]["came"] == REPLAY.habit.realised


def test_the_diagonal_is_where_risks_come_true_as_often_as_stated():
    chart = draw_reliability(REPLAY)
    (ends,) = rows_of(chart, "line")
    x, y = (chart.to_dict()["layer"][0]["encoding"][axis]["scale"]["domain"] for axis in ("x", "y"))

    assert all(end["stated"] == end["came"] for end in ends)
    assert (x[1], y[1]) == (ends[-1]["stated"], ends[-1]["came"])
    assert y[0] == 0.0


@pytest.mark.parametrize("wrong", [(0,) * 6, (55,) * 6, (0, 2, 4, 7, 12, 20)])
def test_everything_lies_within_the_axes(wrong):
    chart = draw_reliability(replay_of(wrong, 55, 23))
    top = chart.to_dict()["layer"][0]["encoding"]["y"]["scale"]["domain"][1]

    assert all(row.get("high", row["came"]) <= top <= 1.0 for rows in rows_of(chart, "rule") for row in rows)


CROWDED = (0.02, 0.03, 0.035, 0.04, 0.3, 0.49)


@pytest.mark.parametrize(
    "replay",
    [
        REPLAY,
        replay_of((0,) * 6, 12, 1),
        replay_of((0, 1, 2, 3, 4, 5), 12, 12),
        replay_of((0,) * 6, 12, 1, CROWDED),
        replay_of((12,) * 6, 12, 12, CROWDED),
    ],
    ids=["sample", "none wrong", "few springs", "crowded", "all wrong"],
)
def test_no_label_lies_on_another(replay, tmp_path: Path):
    save_chart(draw_reliability(replay, station=Station(id="X")), tmp_path / "a.svg")
    pattern = r'translate\(([-\d.]+),([-\d.]+)\)[^>]*font-size="13px"[^>]*>(\d+ %)<'  # the axes have 12
    content = (tmp_path / "a.svg").read_text(encoding="utf-8")
    spots = [(float(x), float(y), len(text)) for x, y, text in re.findall(pattern, content)]

    assert len(spots) == 6
    for (x, y, length), (other_x, other_y, other_length) in itertools.combinations(spots, 2):
        assert abs(x - other_x) > 3.4 * (length + other_length) or abs(y - other_y) > 13


def test_the_words_tell_springs_station_and_sides(tmp_path: Path):
    save_chart(draw_reliability(REPLAY, station=Station(id="X", name="Oskelmere")), tmp_path / "a.svg")
    content = (tmp_path / "a.svg").read_text(encoding="utf-8")

    for text in (
        "Does the stated risk come true?",
        "Oskelmere; 55 springs, each judged by the others; forecasts of 7 nights are drawn",
        "as often as stated",
        "42 % went wrong",
    ):
        assert f">{text}<" in content.replace("&#39;", "'")


@pytest.mark.parametrize("habit", [never_opened(np.nan, 12), came(np.nan, 5, 12, np.nan)], ids=["no", "yes"])
def test_a_gate_that_never_opened_is_drawn_as_that(habit, tmp_path: Path):
    replay = replay_with(tuple(never_opened(risk, 12) for risk in RISKS), habit)

    chart = draw_reliability(replay)
    save_chart(chart, tmp_path / "a.svg")

    assert len(rows_of(chart, "rule")) == (1 if habit.springs else 0)
    assert not rows_of(chart, "point")
    assert "the gate opened in none of these springs" in (tmp_path / "a.svg").read_text(encoding="utf-8")


def test_a_limit_at_which_the_gate_never_opened_has_no_dot():
    rows = (never_opened(0.02, 55), *REPLAY.openings[1:])

    (dots,) = rows_of(draw_reliability(replay_with(rows, REPLAY.habit)), "point")

    assert [row["text"] for row in dots] == ["5 %", "10 %", "20 %", "30 %", "50 %"]


def test_nothing_replayed_is_nothing_to_draw():
    with pytest.raises(InputError, match="no replayed spring"):
        draw_reliability(replay_with((), REPLAY.habit))
