"""Freeze dates of 1981-2010 against those the US archive published for the same stations and years.

Last and first minimum at or below 32 °F. The archive's method is not published for these normals; its dates
look conditional on a freeze (see the data's description). Ours are not: a level exists only below the share
of springs with a frost. Distances are in season days, so 29 February counts as a day of every year.
"""

import csv
from dataclasses import replace

import numpy as np
import pytest

from frostgate.climate.fits import FITS, fit_curve
from frostgate.climate.frosts import first_frosts, last_frosts
from frostgate.seasons import NORTH, SLOTS, month_day_text
from tests.reference.naive import read_record

SLOT_OF = {month_day_text(slot, NORTH): slot for slot in range(SLOTS)}
TABLES = {"spring": "prblst", "autumn": "prbfst"}
FINDERS = {"spring": last_frosts, "autumn": first_frosts}
MILWAUKEE, CENTRAL_PARK, HOUSTON = "USW00014839", "USW00094728", "USW00012960"
LOS_ANGELES, PHOENIX, DEATH_VALLEY, MIDWAY = "USW00023174", "USW00023183", "USC00042319", "USW00014819"

every_kind = pytest.mark.parametrize("kind", ["best", *FITS])


@pytest.fixture(scope="module")
def published(reference):
    """Give the published date (MM-DD, or a special value) by side, level and station."""
    tables = {}
    for side, name in TABLES.items():
        for level in (0.5, 0.9):
            text = (
                reference / "normals" / f"ann-tmin-{name}-t32Fp{level * 100:.0f}_1981-2010.txt"
            ).read_text()
            rows = [line.split() for line in text.splitlines()]
            tables[side, level] = {station: value[:5].replace("/", "-") for station, value, *_ in rows}
    return tables


@pytest.fixture(scope="module")
def frosts(reference):
    """Find the frosts of 1981-2010, once for each station and side."""
    found = {}

    def find(station, side):
        if (station, side) not in found:
            made = read_record(reference, station)
            found[station, side] = FINDERS[side](made, 0.0, NORTH).of_years(1981, 2010)
        return found[station, side]

    return find


def off_by(curve, published, station, side, level):
    """Give how many days our date lies behind the published one."""
    return SLOT_OF[curve.date_at(level)] - SLOT_OF[published[side, level][station]]


def in_frost_years(curve):
    """Divide the risk by the share of seasons with a frost: the dates of those seasons alone."""
    return replace(curve, risk=np.minimum(curve.risk / curve.frost_share, 1.0), frost_share=1.0)


@pytest.mark.parametrize(
    ("station", "frost", "none", "unknown"),
    [(MILWAUKEE, 30, 0, 0), (CENTRAL_PARK, 30, 0, 0), (HOUSTON, 30, 0, 0), (LOS_ANGELES, 0, 30, 0),
     (PHOENIX, 10, 20, 0), (DEATH_VALLEY, 29, 0, 1)],
)  # fmt: skip
def test_the_springs_of_the_normals_are_counted(frosts, station, frost, none, unknown):  # measured
    states = frosts(station, "spring").states
    assert tuple(states.count(state) for state in ("frost", "none", "unknown")) == (frost, none, unknown)


@every_kind
@pytest.mark.parametrize("level", [0.5, 0.9])
@pytest.mark.parametrize(("station", "days"), [(MILWAUKEE, 1), (CENTRAL_PARK, 5), (HOUSTON, 5)])
def test_last_freezes_are_near_the_published(frosts, published, station, days, level, kind):
    # measured: Milwaukee -1 to 1 for every kind, Central Park -3 to 0, Houston -2 to 5
    curve = fit_curve(frosts(station, "spring"), kind)
    assert abs(off_by(curve, published, station, "spring", level)) <= days


@every_kind
@pytest.mark.parametrize("level", [0.5, 0.9])
@pytest.mark.parametrize("station", [MILWAUKEE, CENTRAL_PARK])
def test_first_freezes_are_near_the_published(frosts, published, station, level, kind):
    # measured: Milwaukee -5 to -3 at 50 % and 1 to 3 at 90 %, Central Park 0 to 2 and 3 to 5
    curve = fit_curve(frosts(station, "autumn"), kind)
    assert abs(off_by(curve, published, station, "autumn", level)) <= 5


@every_kind
def test_houstons_first_freezes_are_near_at_the_middle_and_early_at_the_end(frosts, published, kind):
    # an honest difference: the published 90 % date is 7 to 10 days later than every kind's here
    curve = fit_curve(frosts(HOUSTON, "autumn"), kind)
    assert abs(off_by(curve, published, HOUSTON, "autumn", 0.5)) <= 5
    assert -10 <= off_by(curve, published, HOUSTON, "autumn", 0.9) <= -7


@every_kind
@pytest.mark.parametrize("side", TABLES)
def test_a_station_that_never_froze_has_no_dates(frosts, published, side, kind):
    curve = fit_curve(frosts(LOS_ANGELES, side), kind)
    assert (curve.frost_share, curve.risk.max()) == (0.0, 0.0)
    for level in (0.5, 0.9):
        assert curve.date_at(level) is None
        assert published[side, level][LOS_ANGELES] == "-6666"


@every_kind
def test_a_level_above_the_share_of_frosts_has_no_date_here_and_one_in_the_normals(frosts, published, kind):
    curve = fit_curve(frosts(PHOENIX, "spring"), kind)
    assert curve.frost_share == pytest.approx(1 / 3)
    assert curve.date_at(0.5) is curve.date_at(0.9) is None
    assert curve.date_at(0.3) is not None
    assert published["spring", 0.5][PHOENIX] == "01-06"


@every_kind
@pytest.mark.parametrize(
    ("side", "days"), [("spring", 6), ("autumn", 7)]
)  # measured: of ten springs -6 to 5 (best -1 and -1), of eleven autumns -4 to 7
def test_phoenixs_dates_in_years_with_a_frost_are_near_the_published(frosts, published, side, days, kind):
    curve = in_frost_years(fit_curve(frosts(PHOENIX, side), kind))
    for level in (0.5, 0.9):
        assert abs(off_by(curve, published, PHOENIX, side, level)) <= days


@every_kind
def test_death_valleys_last_freezes_are_near_the_published(frosts, published, kind):
    # every known season of these years had a frost; measured: 4 to 5 at 50 %, -8 (smooth) to -4 at 90 %
    curve = fit_curve(frosts(DEATH_VALLEY, "spring"), kind)
    assert curve.frost_share == 1.0
    assert abs(off_by(curve, published, DEATH_VALLEY, "spring", 0.5)) <= 5
    assert -8 <= off_by(curve, published, DEATH_VALLEY, "spring", 0.9) <= -4


def test_death_valley_has_springs_without_a_frost_over_its_whole_record(reference):
    frosts = last_frosts(read_record(reference, DEATH_VALLEY), 0.0, NORTH)
    assert (frosts.states.count("none"), frosts.known.size) == (4, 63)  # measured
    assert 1.0 > fit_curve(frosts).frost_share > 0.93


@every_kind
def test_only_half_the_years_of_a_station_leave_its_dates_near_the_published(frosts, published, kind):
    # Midway's record here begins in 1997: measured on 14 springs, -4 to -1
    curve = fit_curve(frosts(MIDWAY, "spring"), kind)
    assert curve.seasons_used < 15
    for level in (0.5, 0.9):
        assert abs(off_by(curve, published, MIDWAY, "spring", level)) <= 5


@pytest.mark.parametrize("start_day", [(7, 15), (7, 24), (8, 1), (8, 15)])
def test_the_split_changes_nothing_at_a_mid_latitude_station(reference, start_day):
    start = replace(NORTH, month=start_day[0], day=start_day[1])
    made = read_record(reference, MILWAUKEE)
    for side, find in FINDERS.items():
        usual, other = (find(made, 0.0, split).of_years(1940, 2020) for split in (NORTH, start))
        assert [other.date(i) for i in range(81)] == [usual.date(i) for i in range(81)]
        curves = [fit_curve(seen.of_years(1981, 2010)) for seen in (usual, other)]
        assert curves[0].date_at(0.5) == curves[1].date_at(0.5), side


ANNUAL = {"annualseasonal_1991-2020_USW00094765.csv", "annualseasonal_1981-2010_USW00094765.csv",
          "annualseasonal_2006-2020_USW00094745.csv"}  # fmt: skip


@pytest.fixture(params=sorted(ANNUAL))
def normals(reference, request):
    with (reference / "normals" / request.param).open() as lines:
        (row,) = csv.DictReader(lines)
    return {name.removeprefix("ANN-TMIN-"): value.strip() for name, value in row.items()}


@pytest.mark.parametrize("temp_f", [36, 32, 28, 24, 20, 16])
def test_published_dates_move_earlier_in_spring_and_later_in_autumn_with_the_level(normals, temp_f):
    slots = {
        name: [SLOT_OF[normals[f"{name}-T{temp_f}FP{level}0"].replace("/", "-")] for level in range(1, 10)]
        for name in ("PRBLST", "PRBFST")
    }
    assert slots["PRBLST"] == sorted(slots["PRBLST"], reverse=True)
    assert slots["PRBFST"] == sorted(slots["PRBFST"])
    lengths = [float(normals[f"PRBGSL-T{temp_f}FP{level}0"]) for level in range(1, 10)]
    assert lengths == sorted(lengths, reverse=True)


def test_published_dates_come_earlier_in_spring_for_a_colder_threshold(normals):
    for level in range(10, 100, 10):
        last, first = (
            [
                SLOT_OF[normals[f"{name}-T{temp_f}FP{level}"].replace("/", "-")]
                for temp_f in (36, 32, 28, 24, 20, 16)
            ]
            for name in ("PRBLST", "PRBFST")
        )
        assert last == sorted(last, reverse=True)
        assert first == sorted(first)


@pytest.mark.parametrize(
    ("last", "first", "between", "published_length"),
    [("04-27", "10-15", 171, 169.0), ("05-21", "09-29", 131, 129.0)],
    ids=["Albany", "Lupton"],
)  # NCEI 1991-2020 normals, medians at 32 °F (as quoted in public tables)
def test_the_median_season_is_not_the_difference_of_the_median_dates(last, first, between, published_length):
    days = (np.datetime64(f"2023-{first}") - np.datetime64(f"2023-{last}")).astype(int)
    assert days == between
    assert days != published_length


def test_the_published_season_length_is_near_the_difference_and_not_it(reference):
    differences = []
    for name in ANNUAL:
        with (reference / "normals" / name).open() as lines:
            (row,) = csv.DictReader(lines)
        for temp_f in (36, 32, 28, 24, 20, 16):
            last, first = (
                row[f"ANN-TMIN-{kind}-T{temp_f}FP50"].strip().replace("/", "-")
                for kind in ("PRBLST", "PRBFST")
            )
            days = (np.datetime64(f"2023-{first}") - np.datetime64(f"2023-{last}")).astype(int)
            differences.append(float(row[f"ANN-TMIN-PRBGSL-T{temp_f}FP50"]) - days)
    assert (min(differences), max(differences)) == (-3, 1)
    assert sum(difference != 0 for difference in differences) == 14  # of 18 medians
