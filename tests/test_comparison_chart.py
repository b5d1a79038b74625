"""The chart of several places: each line by its name, in colours that no eye confuses."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtr

from frostgate.errors import InputError
from frostgate.model.curves import FrostCurve
from frostgate.seasons import SOUTH
from frostgate.show.charts.curves import draw_comparison
from frostgate.show.charts.paper import COLORS
from frostgate.units import celsius
from tests.chart_cases import layers_of, lines_of, save_chart, texts_of
from tests.strategies import given_curve

DAYS = np.arange(366)
NAMES = (
    *("HOLLIN BANK UPPER FARM", "Oskelmere", "Far field", "WIDE WATER AP", "Tarn side", "B", "Mill Lane"),
    *("CRAGGY TOP", "Low meadow", "Old quarry", "A", "Ridge", "WWWWWWWW MMMMMMM", "Vale, lower", "Coast"),
)
# Machado, Oliveira & Fernandes (2009), doi:10.1109/TVCG.2009.113: linear RGB as seen at severity 1.0.
SEEN_BY = {
    "all": np.eye(3),
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def bell(mean: float = 250.0, sd: float = 12.0, share: float = 1.0, **changes) -> FrostCurve:
    return replace(given_curve(share * (1 - ndtr((DAYS - mean) / sd)), frost_share=share), **changes)


def places(count: int, gap: float) -> list[tuple[str, FrostCurve]]:
    return [(name, bell(260 - gap * k)) for k, name in enumerate(NAMES[:count])]


def labels_of(chart) -> list[str]:
    return [line["name"].rpartition("|")[0] for line in lines_of(chart)]


def linear(color: str) -> np.ndarray:
    """IEC 61966-2-1: sRGB into linear light."""
    coded = np.array([int(color[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def lab(light: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* of linear sRGB light, white D65."""
    to_xyz = [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
    x, y, z = np.array(to_xyz) @ np.clip(light, 0, 1) / [0.95047, 1.0, 1.08883]
    fx, fy, fz = (np.cbrt(t) if t > 216 / 24389 else (24389 / 27 * t + 16) / 116 for t in (x, y, z))
    return np.array([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)])


@pytest.mark.parametrize("color", COLORS)
def test_each_line_stands_out_from_the_paper(color):
    # WCAG 2.1, success criterion 1.4.11: graphics need a contrast of 3:1
    luminance = linear(color) @ [0.2126, 0.7152, 0.0722]
    assert 1.05 / (luminance + 0.05) >= 3.0


@pytest.mark.parametrize("eye", SEEN_BY)
def test_colours_differ_for_every_kind_of_colour_vision(eye):
    # a difference of 2.3 in L*a*b* can just be seen (from memory: Mahy et al. 1994); the least here is 17
    seen = {color: lab(np.array(SEEN_BY[eye]) @ linear(color)) for color in COLORS}
    least = min(np.linalg.norm(seen[a] - seen[b]) for a, b in itertools.combinations(COLORS, 2))
    assert least > 16.9


@pytest.mark.parametrize("count", [1, 5, 15])
def test_no_two_of_fifteen_lines_look_alike(count):
    chart = draw_comparison(places(count, 3.0), "F")
    looks = {(line["color"], *line["dash"]) for line in lines_of(chart)}
    assert len(looks) == count
    assert len({color for color, *_ in looks}) == min(count, len(COLORS))


def test_each_line_is_the_curves_own_risk_until_it_is_gone():
    named = places(4, 12.0)
    lines = lines_of(draw_comparison(named, "F"))
    for (_, curve), line in zip(named, lines, strict=True):
        risks = [row["risk"] for row in line["rows"]]
        first = int(np.flatnonzero(curve.by_day == risks[0])[-1])
        assert risks == curve.by_day[first : first + len(risks)].tolist()
    assert lines[-1]["rows"][0]["risk"] == pytest.approx(1.0, abs=0.005)  # the earliest, which spans the left
    assert lines[0]["rows"][-1]["risk"] == pytest.approx(0.0, abs=0.005)


@pytest.mark.parametrize("gap", [0.5, -3.0, 15.0])
@pytest.mark.parametrize("count", [2, 8, 15])
def test_names_stand_in_the_picture_whole_in_the_order_of_the_lines_from_the_right(
    count, gap, tmp_path: Path
):
    named = places(count, gap)
    save_chart(draw_comparison(named, "F", risk=0.1), tmp_path / "a.svg")
    found = re.findall(r">([^<]+)</text>", (tmp_path / "a.svg").read_text(encoding="utf-8"))
    latest = sorted(named, key=lambda one: -one[1].day_at_risk(0.5))
    assert [text for text in found if text in dict(named)] == [name for name, _ in latest]


def test_the_threshold_and_its_unit_stand_in_the_words():
    named = [("Hill", bell(threshold_c=celsius(34.0))), ("Vale", bell(240, threshold_c=celsius(34.0)))]
    assert draw_comparison(named, "F").to_dict()["title"]["subtitle"] == [
        "34 °F or less at the station; 30 springs"
    ]
    differ = draw_comparison([*named, ("Coast", bell(200, seasons_used=55))], "C")
    assert labels_of(differ) == ["Hill, 1.1 °C", "Vale, 1.1 °C", "Coast, 0 °C"]
    assert differ.to_dict()["title"]["subtitle"][0].startswith("frost: the minimum beside each name")
    assert "30 to 55 springs each" in differ.to_dict()["title"]["subtitle"][0]
    assert layers_of(differ, "line")[0]["encoding"]["y"]["title"] == "chance of a frost after this date"


def test_a_place_without_frost_is_named_instead_of_drawn():
    chart = draw_comparison([("Hill", bell()), ("Harbour", bell(share=0.0))], "C")
    assert len(lines_of(chart)) == 1
    assert chart.to_dict()["title"]["subtitle"][1] == "No such frost in any known spring: Harbour"


def test_places_without_any_frost_still_make_a_chart(tmp_path: Path):
    chart = draw_comparison([("Harbour", bell(share=0.0))], "C")
    save_chart(chart, tmp_path / "a.svg")
    assert not lines_of(chart)
    assert "No such frost in any known spring: Harbour" in (tmp_path / "a.svg").read_text(encoding="utf-8")


def test_a_place_that_freezes_in_some_springs_begins_at_their_share():
    (line,) = lines_of(draw_comparison([("Coast", bell(160, share=0.3))], "C"))
    assert line["rows"][0]["risk"] == pytest.approx(0.3, abs=0.002)


def test_north_and_south_have_a_panel_each(tmp_path: Path):
    chart = draw_comparison(
        [("S", bell(230, start=SOUTH)), ("N", bell()), ("T", bell(220, start=SOUTH))], "C"
    )
    save_chart(chart, tmp_path / "a.svg")
    titles = [panel["title"]["text"] for panel in chart.to_dict()["vconcat"]]
    assert [title.rsplit(" ", 1)[1] for title in titles] == ["north", "south"]
    assert labels_of(chart) == ["N", "S", "T"]
    svg = (tmp_path / "a.svg").read_text(encoding="utf-8")
    first, second = (svg.count(f'stroke="{color}" stroke-width="2.5"') for color in COLORS[:2])
    assert (first, second) == (4, 2)  # line and legend: each panel begins with the first colour


@pytest.mark.parametrize(("risk", "marked"), [(0.1, False), (0.12, False), (0.2, True), (None, True)])
def test_the_limit_takes_the_place_of_a_rule_that_it_would_lie_on(risk, marked):
    chart = draw_comparison(places(2, 9.0), "F", risk=risk)
    texts = texts_of(chart)
    assert ("1 spring in 10" in texts) == marked
    assert any(text.startswith("your limit") for text in texts) == (risk is not None)


def test_a_long_name_is_shortened(tmp_path: Path):
    save_chart(draw_comparison([("x" * 90, bell())], "C"), tmp_path / "a.svg")
    (label,) = re.findall("x+…", (tmp_path / "a.svg").read_text(encoding="utf-8"))
    assert 30 < len(label) < 60


@pytest.mark.parametrize(
    ("curves", "what"), [([], "no curve"), ([("A", given_curve(0.5, "autumn"))], "last frosts of spring")]
)
def test_what_cannot_be_drawn_is_refused(curves, what):
    with pytest.raises(InputError, match=what):
        draw_comparison(curves, "F")


def test_frost_on_any_day_of_the_year_can_be_drawn(tmp_path: Path):
    save_chart(draw_comparison([("Peak", given_curve(1.0)), ("Hill", bell())], "C"), tmp_path / "a.png")
    assert (tmp_path / "a.png").stat().st_size > 10_000
