"""The figures by which places are compared, and how they are laid side by side."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from frostgate.climate.frosts import last_frosts
from frostgate.climate.normals import compare_record, spread_of_dates, tabulate_lengths, tabulate_side
from frostgate.climate.quality import leave_out_suspects
from frostgate.climate.site import know_site
from frostgate.climate.years import find_trend
from frostgate.climate.zones import mean_extreme, zones_named
from frostgate.errors import InputError
from frostgate.gate.verdict import ask
from frostgate.model.curves import SiteClimate
from frostgate.model.gate import Policy
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SOUTH, SeasonStart
from frostgate.show.comparisons import (
    Comparison,
    Place,
    comparison_answer,
    comparison_parts,
    place_facts,
    place_rows,
)
from frostgate.show.say import write_parts
from tests.strategies import given_curve


def invented(seasons: int = 30) -> DailyMinima:
    days = np.arange(f"{2020 - seasons}-08-01", "2020-08-01", dtype="datetime64[D]")
    yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    noise = np.random.default_rng(4).normal(0.0, 3.0, days.size)
    return DailyMinima(station=Station(id="X"), dates=days, tmin_c=6 + 9 * yearly + noise)


def known(record: DailyMinima, threshold_c: float = 0.0) -> SiteClimate:
    return know_site(record, threshold_c, NORTH, autumn=True)


def compared(record: DailyMinima):
    return compare_record(record, known(record), 0.1)


RECORD = invented()
FIGURES = compared(RECORD)


@pytest.mark.parametrize(("threshold_c", "risk"), [(0.0, 0.1), (1.5, 0.05), (-2.0, 0.3)])
def test_each_figure_is_that_of_the_function_the_single_command_uses(threshold_c, risk):
    site = known(RECORD, threshold_c)
    figures = compare_record(RECORD, site, risk)
    record = leave_out_suspects(RECORD)
    spring, autumn = (tabulate_side(record, side, [threshold_c], NORTH) for side in ("spring", "autumn"))
    levels = tabulate_lengths(spring.used, autumn.used, levels=(0.5, 1 - risk))
    lengths = {level.chance: level.days for level in levels}
    assert (figures.last_median, figures.last_at_risk) == (site.curve.date_at(0.5), site.curve.date_at(risk))
    assert (figures.first_median, figures.first_at_risk) == tuple(
        autumn.curves[0].date_at(share) for share in (0.5, risk)
    )
    assert figures.last.risk.tolist() == site.curve.risk.tolist()
    assert (figures.median_length_days, figures.length_at_risk_days) == (lengths[0.5], lengths[1 - risk])
    assert figures.trend == find_trend(last_frosts(record, threshold_c, NORTH)) == spring.trends[0]
    assert figures.coldest.mean_c == mean_extreme(record, NORTH).mean_c
    assert figures.unzoned is None


def test_a_plain_error_is_no_coldest_night_unless_suspects_are_kept():
    tmin_c = RECORD.tmin_c.copy()
    tmin_c[5000] = -60.0
    record = replace(RECORD, tmin_c=tmin_c)
    site = known(record)
    mean_c, kept_c = (
        compare_record(record, site, 0.1, keep_suspects=keep).coldest.mean_c for keep in (False, True)
    )
    assert mean_c == pytest.approx(FIGURES.coldest.mean_c)
    assert kept_c < mean_c - 1.0


def test_the_spread_is_the_days_between_the_dates_of_ninety_and_of_ten_per_cent():
    # a straight line from 1 to 0: 10 % at day 328.5, 90 % at 36.5; one day less in a year without 29 February
    place = replace(FIGURES, last=given_curve(np.linspace(1, 0, 366)))
    assert place.spread_days == pytest.approx(0.8 * 365 - 1)
    south = replace(given_curve(np.linspace(1, 0, 366)), start=SOUTH)  # 29 February is its 28th day
    assert replace(FIGURES, last=south).spread_days == pytest.approx(0.8 * 365)


def test_where_frost_does_not_come_in_nine_springs_of_ten_there_is_no_spread():
    place = replace(FIGURES, last=given_curve(np.linspace(0.8, 0, 366)))
    assert (place.spread_days, place.last_median is None) == (None, False)


def test_a_record_too_short_for_a_zone_says_why_and_keeps_its_dates():
    record = invented(11)
    gone = np.array(
        [f"{year}-01-{day:02d}" for year in (2011, 2013) for day in range(1, 32)], "datetime64[D]"
    )
    figures = compared(record.leave_out(gone))
    assert figures.coldest is None
    assert figures.unzoned.startswith("only 9 of 11 winters are known")
    assert figures.last_median


def test_too_few_autumns_leave_the_autumn_unknown():
    record = invented(11)
    gone = record.dates[
        (record.dates.astype("datetime64[M]").astype(int) % 12 == 9)
        & (record.dates < np.datetime64("2014-01-01"))
    ]
    figures = compared(record.leave_out(gone))
    assert (figures.first_median, figures.first_at_risk, figures.median_length_days) == (None, None, None)


def place(name: str, **changes) -> Place:
    return Place(name=name, climate=replace(FIGURES, **changes))


def dated(day: float, start: SeasonStart = NORTH):
    """Make a curve whose median last frost is a day of the season."""
    curve = given_curve(np.clip((day + 10 - np.arange(366)) / 20, 0, 1))
    return replace(curve, start=start)


def test_the_spread_of_a_zone_names_its_earliest_and_latest_place():
    named = [("Hill", dated(260)), ("Coast", dated(200)), ("Vale", dated(230))]
    (spread,) = spread_of_dates((name, replace(FIGURES, last=curve)) for name, curve in named)
    # slots 200 and 260 of a season from 1 August with a 29 February: 17 February and 17 April
    assert (spread.earliest, spread.latest) == (("Coast", "02-17"), ("Hill", "04-17"))
    assert (spread.places, spread.days) == (3, 59)  # 17 February to 17 April of a common year


def test_north_and_south_are_never_subtracted_from_one_another():
    named = [("A", dated(260)), ("B", dated(200, SOUTH)), ("C", dated(250)), ("D", dated(220, SOUTH))]
    north, south = spread_of_dates((name, replace(FIGURES, last=curve)) for name, curve in named)
    assert (north.start, north.earliest[0], north.latest[0], north.days) == (NORTH, "C", "A", 10)
    assert (south.start, south.earliest[0], south.latest[0], south.days) == (SOUTH, "B", "D", 20)


def test_a_place_without_a_median_date_has_no_part_in_the_spread():
    named = [("A", dated(260)), ("Mild", given_curve(np.linspace(0.4, 0, 366)))]
    (spread,) = spread_of_dates((name, replace(FIGURES, last=curve)) for name, curve in named)
    assert (spread.places, spread.earliest) == (1, spread.latest)


def screen_of(comparison: Comparison, unit="F", width: int = 88) -> str:
    console = Console(width=width, file=io.StringIO(), highlight=False, soft_wrap=True)
    write_parts(comparison_parts(comparison, unit), console)
    return console.file.getvalue()


WRONG = Place(name="far.dly", problem=InputError("no such file", file="far.dly"))


def test_answer_and_rows_hold_the_same_figures_for_every_place():
    comparison = Comparison(places=(place("Hill"), place("Vale, lower"), WRONG))
    answer = json.loads(json.dumps(comparison_answer(comparison)))
    rows = list(csv.DictReader(io.StringIO(place_rows(comparison))))
    assert [row["name"] for row in rows] == ["Hill", "Vale, lower", "far.dly"]
    for row, said in zip(rows, answer["places"], strict=True):
        notes = said.pop("notes")
        assert notes == []
        assert row == {key: "" if value is None else str(value) for key, value in said.items()}
    assert answer["places"][2]["problem"] == "far.dly: no such file."
    assert answer["places"][2]["last_median"] is None
    assert answer["last_medians"][0]["days"] == 0


def test_facts_round_and_name_what_they_are():
    facts = place_facts(place("Hill"))
    assert facts["last_median"] == FIGURES.last_median
    assert facts["zone"] == FIGURES.coldest.zone.name
    assert facts["coldest_night_c"] == round(FIGURES.coldest.mean_c, 3)
    assert (facts["zone_coldest"], facts["zone_warmest"]) == tuple(
        FIGURES.coldest.zones[end].name for end in (0, -1)
    )
    assert place_facts(place("Hill", coldest=None, unzoned="too short"))["no_zone"] == "too short"


@pytest.mark.parametrize("width", [60, 88, 102])
def test_no_line_of_the_screen_is_wider_than_the_terminal(width):
    names = ("Hill", "A station whose name goes on and on", "Vale")
    comparison = Comparison(places=(*(place(name) for name in names), WRONG))
    lines = screen_of(comparison, width=width).splitlines()
    assert width < 88 or max(map(len, lines)) <= width
    assert "Hill" in lines[2]


def test_the_screen_tells_dates_zone_and_why_a_place_is_missing():
    text = screen_of(Comparison(places=(place("Hill"), WRONG)))
    for part in (
        "24 Apr",
        "11 May",
        "by date 11 May",
        "8a",
        "32 °F",
        "Not compared",
        "far.dly: no such file.",
    ):
        assert part in text
    unread = Place(name="Far field", record=Path("far.dly"), problem=WRONG.problem)
    assert "- far.dly: no such file." in screen_of(Comparison(places=(unread,)))  # its file tells whose it is


def test_thresholds_have_a_column_only_where_they_differ():
    same = screen_of(Comparison(places=(place("Hill"), place("Vale"))))
    other = replace(FIGURES.last, threshold_c=10 / 9)
    differ = screen_of(Comparison(places=(place("Hill"), place("Vale", last=other))))
    assert "A frost is 32 °F or less at the station." in same
    assert "34 °F" in differ
    assert "the minimum told for each place" in differ


def asked(forecast_state: str = "open") -> Place:
    site = known(RECORD)
    now = dt.datetime(2026, 6 if forecast_state == "open" else 4, 12, 6)
    morning = ask(site, None, Policy(), now, climate_only=forecast_state != "unknown")
    assert morning.verdict.state == forecast_state
    return replace(place("Hill"), morning=morning)


@pytest.mark.parametrize(("state", "said"), [("open", "OPEN"), ("shut", "SHUT to"), ("unknown", "UNKNOWN")])
def test_the_verdict_stands_beside_its_place(state, said):
    assert said in screen_of(Comparison(places=(asked(forecast_state=state),)))
    assert place_facts(asked(forecast_state=state))["verdict"] == state


def test_a_season_without_a_date_within_the_limit_is_shut_without_one():
    hill = asked(forecast_state="shut")
    never = replace(hill.morning, verdict=replace(hill.morning.verdict, earliest_date=None))
    assert "SHUT\n" in screen_of(Comparison(places=(replace(hill, morning=never),))).replace(" ", "")


@pytest.mark.parametrize(
    ("curve", "said"),
    [
        (given_curve(np.linspace(0.05, 0, 366), frost_share=0.05), "any date"),
        (given_curve(0.5), "no date"),  # frost on any day: no day of the season is within the limit
    ],
)
def test_without_a_forecast_the_calendar_speaks_alone(curve, said):
    assert said in screen_of(Comparison(places=(place("Hill", last=curve),)))


def test_a_few_dates_have_no_trend_on_the_screen_but_in_the_answer():
    few = replace(FIGURES.trend, dates=6, days_per_decade=-90.0, low=-180.0, high=120.0)
    assert "-90.0" not in screen_of(Comparison(places=(place("Hill", trend=few),)))
    assert place_facts(place("Hill", trend=few))["trend_days_per_decade"] == -90.0


def test_wide_intervals_of_a_trend_are_told_in_whole_days():
    wide = replace(FIGURES.trend, days_per_decade=-0.04, low=-12.34, high=3.21)
    assert "+0.0 (-12, +3.2)" in screen_of(Comparison(places=(place("Hill", trend=wide),)))


def test_what_to_note_is_told_with_its_place():
    hill = replace(
        place("Hill", coldest=None, unzoned="only 9 winters.", notes=("A rough curve.",)), doubt="Too old."
    )
    text = screen_of(Comparison(places=(hill,), notes=("One forecast for all.",)))
    for part in (
        "One forecast for all.",
        "Hill: A rough curve.",
        "Hill: no zone; only 9",
        "Hill: no verdict; Too old.",
    ):
        assert part in text


@pytest.mark.parametrize(("name", "span"), [("8a", "10 °F to 15 °F"), ("8", "10 °F to 20 °F")])
def test_a_zone_tells_its_bounds_its_count_and_what_it_does_not_tell(name, span):
    places = (place("Hill", last=dated(260)), place("Coast", last=dated(200)))
    comparison = Comparison(places=places, zones=zones_named(name), elsewhere=(("7b", 2), ("9a", 1)))
    text = " ".join(screen_of(comparison).split())
    assert f"Zone {name} (mean coldest night {span}): 2 of 5 records Elsewhere: 2 in 7b, 1 in 9a" in text
    assert "A zone tells how cold the coldest night is, not when the last frost comes." in text
    assert f"2 records of zone {name} the median last frost falls between 17 Feb (Coast)" in text
    assert "and 17 Apr (Hill), 59 days apart." in text
    assert comparison_answer(comparison)["zone"] == {
        "zone": name,
        "records": 2,
        "elsewhere": {"7b": 2, "9a": 1},
    }


def test_sides_of_the_equator_are_named_where_there_are_both():
    sides = (("A", 260, NORTH), ("B", 250, NORTH), ("C", 200, SOUTH), ("D", 220, SOUTH))
    places = [place(name, last=dated(day, start)) for name, day, start in sides]
    text = " ".join(screen_of(Comparison(places=tuple(places))).split())
    assert "Among 2 places in the north" in text
    assert "Among 2 places in the south" in text
    answer = comparison_answer(Comparison(places=tuple(places)))
    assert [spread["hemisphere"] for spread in answer["last_medians"]] == ["north", "south"]


def test_a_limit_that_differs_from_place_to_place_is_not_named_as_one():
    text = screen_of(Comparison(places=(place("Hill"), place("Vale", risk=0.2)), risk=None))
    assert "limit" in text.splitlines()[1]
