"""Charts: what they draw is what was worked out, and a chart file is whole or not there."""

from __future__ import annotations

import datetime as dt
import re
import struct
import zlib
from dataclasses import replace
from pathlib import Path

import altair as alt
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from frostgate.errors import InputError
from frostgate.gate.forecast_errors import frost_chance
from frostgate.gate.outlook import look_ahead
from frostgate.model.curves import FrostCurve, risk_by_day
from frostgate.model.gate import Forecast, Outlook, Policy
from frostgate.model.records import FrostDates, Side, Station
from frostgate.seasons import NORTH, SOUTH, SeasonStart, season_day_of
from frostgate.show.charts.curves import draw_curves, draw_frost_dates, draw_year
from frostgate.show.charts.paper import chart_bytes, date_axis
from frostgate.show.charts.risks import draw_outlook
from frostgate.show.reasons import say_reasons
from frostgate.units import celsius
from tests.chart_cases import layers_of, lines_of, save_chart, texts_of

DAYS = np.arange(366)
DAMAGE = Policy()
WHERE = {"side": "spring", "threshold_c": 0.0, "start": NORTH}
USED = {"frost_share": 1.0, "seasons_used": 30, "seasons_unknown": 1, "first_year": 1991, "last_year": 2020}
PLAIN = FrostCurve(kind="normal", risk=np.zeros(366), **WHERE, **USED)
SHAPES = st.tuples(st.integers(60, 300), st.integers(1, 40), st.floats(0.02, 1.0))


def bell(mean: float = 260.0, sd: float = 12.0, *, share: float = 1.0, **changes) -> FrostCurve:
    """Make a curve from a normal distribution of frost dates."""
    rising = ndtr((DAYS - mean) / sd)
    risk = share * (rising if changes.get("side") == "autumn" else 1 - rising)
    return replace(PLAIN, risk=risk, frost_share=share, **changes)


def banded(curve: FrostCurve) -> FrostCurve:
    return replace(curve, low=0.9 * curve.risk, high=np.minimum(1.1 * curve.risk, 1.0), confidence=0.8)


def slots_of(rows: list[dict], start: SeasonStart) -> list[int]:
    return [season_day_of(dt.date.fromisoformat(row["date"][:10]), start)[1] for row in rows]


def domain_of(chart, start: SeasonStart) -> list[int]:
    scale = layers_of(chart, "line")[0]["encoding"]["x"]["scale"]
    dates = [dt.date(end["year"], end["month"], end["date"]) for end in scale["domain"]]
    return [season_day_of(date, start)[1] for date in dates]


def labels_of(chart) -> list[str]:
    """Read the names in the legend, which drops what stands behind a bar."""
    (line,) = layers_of(chart, "line")
    assert line["encoding"]["color"]["legend"]["labelExpr"] == "split(datum.label, '|')[0]"
    return [name["name"].split("|")[0] for name in lines_of(chart)]


def outlook_of(tmin_c: list[float], curve: FrostCurve, *, now: str = "2026-05-04T07:00") -> Outlook:
    """Look ahead with a forecast made on the morning of 4 May."""
    made, unstated = dt.datetime(2026, 5, 4, 6), np.full(len(tmin_c), np.nan)
    days = np.datetime64("2026-05-05") + np.arange(len(tmin_c))
    given = {"source": "f", "form": "table", "issued_at": made}
    forecast = Forecast(**given, dates=days, tmin_c=tmin_c, sd_c=unstated)
    return look_ahead(curve, forecast, DAMAGE, dt.datetime.fromisoformat(now))


def plain_outlook(first: str, risk: list[float]) -> Outlook:
    """Make the outlook of a climate alone."""
    days = np.datetime64(first) + np.arange(len(risk))
    tables = dict.fromkeys(("risk", "climate_risk", "climate_low", "climate_high", "climate_alone"), risk)
    return Outlook(today=days[0].astype(object), dates=days, window_risk=np.zeros(len(risk)), **tables)


@pytest.mark.parametrize("start", [NORTH, SOUTH, SeasonStart(month=3, day=1), SeasonStart(month=1, day=1)])
@pytest.mark.parametrize("side", ["spring", "autumn"])
def test_each_day_is_drawn_at_the_risk_that_the_gate_reads_on_it(side: Side, start: SeasonStart) -> None:
    curve = bell(200, side=side, start=start)
    (line,) = layers_of(draw_curves([curve], "C", "x"), "line")
    slots = slots_of(line["rows"], start)
    assert slots == list(range(slots[0], slots[-1] + 1))
    assert [row["risk"] for row in line["rows"]] == curve.by_day[slots].tolist()


def test_the_dates_end_a_week_beyond_where_the_risk_is_all_but_certain_and_all_but_gone() -> None:
    # 0.5 % and 99.5 % of a normal lie 2.5758 sd from its mean (any table of it): 260 -+ 30.9 days
    assert domain_of(draw_curves([bell()], "C", "x"), NORTH) == [230 - 7, 290 + 7]


@settings(max_examples=15, deadline=None)
@given(st.lists(SHAPES, min_size=1, max_size=3))
def test_no_day_on_which_a_curve_moves_is_left_out(shapes: list[tuple[int, int, float]]) -> None:
    curves = [bell(mean, sd, share=share) for mean, sd, share in shapes]
    first, last = domain_of(draw_curves(curves, "C", "x"), NORTH)
    for curve in curves:
        share = curve.risk / curve.risk.max()
        moving = DAYS[(share > 0.005) & (share < 0.995)]
        assert moving.size == 0 or first <= moving.min() <= moving.max() <= last


def test_a_place_without_frost_shows_its_whole_season_at_zero_and_says_so() -> None:
    chart = draw_curves([bell(share=0.0), bell(share=0.0, threshold_c=-2.0)], "C", "x")
    assert domain_of(chart, NORTH) == [0, 365]
    assert {row["risk"] for line in layers_of(chart, "line") for row in line["rows"]} == {0.0}
    assert chart.to_dict()["title"]["subtitle"][1] == "Never reached in those springs: 0 °C, -2 °C"


@pytest.mark.parametrize(("unit", "labels"), [("F", "36 °F, 32 °F, 16 °F"), ("C", "2.2 °C, 0 °C, -8.9 °C")])
def test_lines_bear_their_thresholds_in_the_growers_unit_warm_to_cold(unit, labels) -> None:
    curves = [bell(200 + temp_f, threshold_c=celsius(float(temp_f))) for temp_f in (16, 36, 32)]
    assert labels_of(draw_curves(curves, unit, "x")) == labels.split(", ")


def test_curves_at_one_threshold_are_a_line_each() -> None:
    chart = draw_curves([bell(), bell(240, kind="smooth")], "C", "x")
    assert [line["rows"][0]["risk"] for line in lines_of(chart)] == pytest.approx([1.0, 1.0], abs=0.02)
    assert labels_of(chart) == ["0 °C", "0 °C"]


@pytest.mark.parametrize("count", [1, 6, 7, 25])
def test_no_two_lines_look_alike(count: int) -> None:
    chart = draw_curves([bell(250 - k, threshold_c=-k / 2) for k in range(count)], "C", "x")
    looks = [(line["color"], *line["dash"]) for line in lines_of(chart)]
    assert len(set(looks)) == count
    assert len({color for color, *_ in looks}) == min(count, 5)


def test_a_single_curve_has_its_band_and_several_have_none() -> None:
    curve = banded(bell())
    (band,) = layers_of(draw_curves([curve], "C", "x"), "area")
    slots = slots_of(band["rows"], NORTH)
    assert [row["risk"] for row in band["rows"]] == risk_by_day(curve.low)[slots].tolist()
    assert [row["high"] for row in band["rows"]] == risk_by_day(curve.high)[slots].tolist()
    assert "shaded: 80 % confidence band" in draw_curves([curve], "C", "x").to_dict()["title"]["subtitle"][0]
    assert not layers_of(draw_curves([curve, banded(bell(240))], "C", "x"), "area")
    assert not layers_of(draw_curves([bell()], "C", "x"), "area")


DATED = [("spring", 1.0, "2 May, 17 Apr, 2 Apr"), ("spring", 0.4, "25 Apr")]
DATED += [("autumn", 1.0, "2 Apr, 17 Apr, 2 May")]


@pytest.mark.parametrize(("side", "share", "dates"), DATED)
def test_a_single_curve_is_dated_where_it_reaches_10_50_and_90_percent(side, share, dates) -> None:
    # slot 260 is 17 April; 10 % of a normal lie beyond 1.2816 sd (15.4 d), 25 % beyond 0.6745 sd (8.1 d)
    (points,) = layers_of(draw_curves([bell(side=side, share=share)], "C", "x"), "point")
    assert ", ".join(row["text"] for row in points["rows"]) == dates


@pytest.mark.parametrize(("side", "word"), [("spring", "after"), ("autumn", "before")])
def test_the_axis_says_whether_the_chance_is_of_a_frost_after_or_before(side, word) -> None:
    chart = draw_curves([bell(side=side)], "C", "x")
    assert layers_of(chart, "line")[0]["encoding"]["y"]["title"] == f"chance of a frost {word} this date"
    assert texts_of(chart)[:3] == [f"1 {side} in 10", f"1 {side} in 2", f"9 {side}s in 10"]


def test_title_and_subtitle_name_station_seasons_and_kind() -> None:
    title = draw_curves([bell()], "C", "Spring", station=Station(id="X", name="Oskelmere")).to_dict()["title"]
    assert title["text"] == "Spring"
    assert draw_curves([bell(side="autumn")], "C").to_dict()["title"]["text"] == "First frost of autumn"
    assert title["subtitle"] == ["Oskelmere; 30 springs, 1991 to 2020; curve: normal"]


def test_both_sides_of_the_year_stand_side_by_side(tmp_path: Path) -> None:
    chart = draw_year([bell()], [bell(80, side="autumn")], "C", "A year", station=Station(id="X"))
    save_chart(chart, tmp_path / "a.svg")
    content = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert content.startswith("<svg")
    for text in ("A year", "Last frost of spring", "First frost of autumn", "17 Apr", "0 °C"):
        assert f">{text}<" in content


@pytest.mark.parametrize("curves", [[], [bell(), bell(side="autumn")], [bell(), bell(start=SOUTH)]])
def test_what_cannot_be_drawn_is_refused(curves: list[FrostCurve]) -> None:
    with pytest.raises(InputError, match="one side of the year" if curves else "no curve"):
        draw_curves(curves, "C", "x")
    with pytest.raises(InputError, match="no season"):
        draw_frost_dates(FrostDates(**WHERE, years=[], day=[]), "C")


def test_dates_are_read_in_utc_wherever_the_page_is_opened() -> None:
    # ECMAScript reads a date alone as UTC and a date with a time but no zone as local
    chart = draw_curves([banded(bell())], "C", "x")
    for layer in (found for mark in ("line", "area", "point", "text") for found in layers_of(chart, mark)):
        if "field" in layer["encoding"].get("x", {}):
            assert layer["encoding"]["x"]["scale"]["type"] == "utc"
            assert all(re.fullmatch(r"\d{4}-\d\d-\d\d(T.*Z)?", row["date"]) for row in layer["rows"])


def test_an_outlook_draws_both_risks_the_limit_and_the_first_date_within_it() -> None:
    outlook = outlook_of([9.0, 1.0, 9.0, 9.0], bell(270.0))
    chart = draw_outlook(outlook, DAMAGE, "C")
    alone, joined = lines_of(chart)
    shown = len(joined["rows"])
    assert [row["risk"] for row in joined["rows"]] == outlook.risk[:shown].tolist()
    assert [row["risk"] for row in alone["rows"]] == outlook.climate_alone[:shown].tolist()
    assert [row["date"] for row in joined["rows"]] == outlook.dates[:shown].astype(str).tolist()
    assert outlook.risk[shown] < 0.005
    opening = layers_of(chart, "point")[0]["rows"]
    assert [row["date"] for row in opening] == [str(outlook.date_at(DAMAGE.risk_tolerance))]
    assert layers_of(chart, "rule")[0]["rows"] == [{"risk": 0.1, "text": "your limit 10 %"}]
    # 10 % of that curve is left at day 285.4; a frost on a later morning than d lies beyond d + 1/2: d = 285
    assert "opens Tue 12 May" in texts_of(chart)
    assert [line["name"] for line in (alone, joined)] == ["by the climate alone", "with the forecast"]
    assert layers_of(chart, "line")[0]["encoding"]["color"]["legend"]["orient"] == "top"


def test_an_outlook_in_doubt_marks_no_date_and_warns() -> None:
    fresh, outlook = (outlook_of([12.0] * 7, bell(230.0), now=f"2026-05-{day}T07:00") for day in ("04", "10"))
    chart = draw_outlook(outlook, DAMAGE, "C")
    assert "open today, Mon 4 May" in texts_of(draw_outlook(fresh, DAMAGE, "C"))
    assert outlook.date_at(DAMAGE.risk_tolerance) == outlook.today  # the curve alone would open it
    assert not layers_of(chart, "point")
    assert len(lines_of(chart)) == 1
    subtitle = chart.vconcat[0].title.subtitle
    assert subtitle[1:] == [
        *say_reasons(outlook.forecast_checks),
        "Unknown is not safe: do not feed on this chart.",
    ]


def test_a_season_without_a_date_within_the_limit_says_so() -> None:
    chart = draw_outlook(plain_outlook("2026-05-04", [0.4, 0.3, 0.2]), DAMAGE, "F")
    told = ["Mon 4 May 2026; damage at 32 °F or less; your limit 10 %", "No date of this season is within"]
    assert chart.vconcat[0].title.subtitle == [told[0], f"{told[1]} your limit."]
    assert not layers_of(chart, "point")


def test_a_season_that_ends_today_can_still_be_drawn(tmp_path: Path) -> None:
    save_chart(draw_outlook(plain_outlook("2026-07-31", [0.0]), DAMAGE, "C"), tmp_path / "a.svg")
    assert "open today, Fri 31 Jul" in (tmp_path / "a.svg").read_text()


@pytest.mark.parametrize("unit", ["C", "F"])
def test_a_bar_holds_four_nights_in_five_by_the_gates_own_law_of_errors(unit) -> None:
    outlook = outlook_of([9.0, 1.0, -1.0], bell())
    degree, zero = (1.8, 32.0) if unit == "F" else (1.0, 0.0)
    bars = layers_of(draw_outlook(outlook, DAMAGE, unit), "rule")[-1]["rows"]
    for row, night in zip(bars, outlook.nights, strict=True):
        below = frost_chance((row["garden"] - row["low"]) / degree, night.sd_c, DAMAGE)
        assert below == pytest.approx(0.1, abs=0.001)
        assert row["high"] + row["low"] == pytest.approx(2 * row["garden"], abs=0.02)
        assert row["garden"] == pytest.approx(night.garden_c * degree + zero, abs=0.005)
    chances = [f"{night.chance * 100:.0f} %" for night in outlook.nights[1:]]
    assert [row["chance"] for row in bars] == ["<1 %", *chances]


def test_frost_dates_stand_by_year_and_what_has_none_stands_apart() -> None:
    frosts = FrostDates(**WHERE, years=[2021, 2022, 2023, 2024], day=[250, -np.inf, np.nan, 213])
    (dots,) = layers_of(draw_frost_dates(frosts, "F"), "point")
    told = [(row["year"], row["season"], row["day"]) for row in dots["rows"]]
    assert told[:2] == [(2021, "frost", "7 Apr"), (2022, "none", "none")]
    assert told[2:] == [(2023, "unknown", "unknown"), (2024, "frost", "1 Mar")]
    dates = [row["date"] for row in dots["rows"]]
    assert max(dates[1:3]) < min(dates[0], dates[3])
    assert len({*dots["encoding"]["shape"]["scale"]["range"]}) == 3  # they differ by more than their colour


@pytest.mark.parametrize("day", [[np.inf, np.inf], [np.nan, np.nan]])
def test_seasons_without_any_date_can_be_drawn(day: list[float], tmp_path: Path) -> None:
    frosts = FrostDates(side="autumn", threshold_c=0.0, start=SOUTH, years=[2021, 2022], day=day)
    save_chart(draw_frost_dates(frosts, "C", station=Station(id="X")), tmp_path / "a.svg")
    assert "First frost of each autumn, 0 °C or less" in (tmp_path / "a.svg").read_text()


def test_a_png_is_twice_as_fine(tmp_path: Path) -> None:
    file = tmp_path / "a.PNG"
    save_chart(draw_curves([bell()], "C", "x"), file)
    content = file.read_bytes()
    width, height = struct.unpack(">II", content[16:24])  # IHDR comes first (PNG, W3C 2003, section 11.2.2)
    assert content[:8] == b"\x89PNG\r\n\x1a\n"
    assert (1700 < width < 2000, 800 < height < 1000) == (True, True)
    assert list(tmp_path.iterdir()) == [file]


def chunks_of(png: bytes):
    """Read a picture's chunks (PNG, W3C 2003, 5.3): length, name, content and its checksum."""
    at = 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        named, (checksum,) = png[at + 4 : at + 8 + length], struct.unpack(">I", png[at + 8 + length :][:4])
        assert zlib.crc32(named) == checksum
        yield named[:4], named[4:]
        at += 12 + length


def test_a_chart_says_who_drew_it_and_is_whole() -> None:
    chart = draw_curves([bell()], "C", "x")
    chunks = list(chunks_of(chart_bytes(chart, Path("a.png"))))
    assert [name for name, _ in chunks][:2] == [b"IHDR", b"tEXt"]
    assert (chunks[1][1], chunks[-1]) == (b"Software\0frostgate", (b"IEND", b""))
    assert re.match(rb"<svg [^>]*><!-- Generator: frostgate --><", chart_bytes(chart, Path("a.svg")))


@pytest.mark.parametrize("name", ["a.png", "a.svg"])
def test_a_chart_replaces_a_chart_and_no_picture_of_the_growers(name: str, tmp_path: Path) -> None:
    file = tmp_path / name
    save_chart(draw_curves([bell()], "C", "x"), file)
    first = file.read_bytes()
    save_chart(draw_curves([bell(250)], "C", "x"), file)
    assert file.read_bytes() != first
    file.write_bytes(first.replace(b"frostgate", b"my camera"))
    with pytest.raises(InputError, match="frostgate did not make"):
        save_chart(draw_curves([bell()], "C", "x"), file)


@pytest.mark.parametrize("name", ["a.jpg", "a", "a.svg.gz", "png"])
def test_another_ending_is_refused_by_name(name: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such form") as fault:
        save_chart(draw_curves([bell()], "C", "x"), tmp_path / name)
    assert (fault.value.value, fault.value.file) == (Path(name).suffix or None, str(tmp_path / name))
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("place", ["missing/a.svg", "file.txt/a.svg", "folder.svg"])
def test_a_place_that_cannot_be_written_to_is_named_and_left_as_it_was(place: str, tmp_path: Path) -> None:
    (tmp_path / "file.txt").write_text("here")
    (tmp_path / "folder.svg").mkdir()
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(InputError, match="cannot be written") as fault:
        save_chart(draw_curves([bell()], "C", "x"), tmp_path / place)
    assert fault.value.file == str(tmp_path / place)
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("days", [21, 45, 90, 150, 365])
def test_dates_on_the_axis_have_room_for_their_words(days: int) -> None:
    first = np.datetime64("2026-03-03")
    marked = date_axis(alt.X, first, first + days, 760).to_dict()["axis"]["values"]
    dates = [dt.date(day["year"], day["month"], day["date"]) for day in marked]
    assert len(dates) >= 3
    gaps = np.diff(np.array(dates, dtype="datetime64[D]")).astype(int)
    assert gaps.min() * 760 / days >= 40.0  # "22 Apr" is some 38 px wide
