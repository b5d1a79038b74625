"""Which years the real records choose, and by how much."""

from __future__ import annotations

from pathlib import Path

import pymannkendall
import pytest
from scipy import stats

from frostgate.climate.frosts import first_frosts, last_frosts
from frostgate.climate.quality import find_hemisphere, find_suspects
from frostgate.climate.years import choose_years
from frostgate.model.records import FrostDates
from frostgate.sources.records import read_minima

# basis, seasons judged, gain of recent years, gain of a trend [d of mean CRPS], slope [d per decade];
# measured by this code at 0 °C on GHCN-Daily records
CHOSEN = {
    ("ASN00064008", "spring"): ("all", 32, -0.57, -0.41, 1.19),
    ("USC00042319", "spring"): ("trend", 33, 1.00, 2.51, -4.62),
    ("USW00012960", "spring"): ("trend", 26, 0.96, 2.00, -6.37),
    ("USW00013904", "spring"): ("all", 22, -1.08, -1.33, 1.44),
    ("USW00014819", "spring"): ("all", 0, None, None, 1.67),
    ("USW00023174", "spring"): ("recent", 51, 1.11, 0.38, -10.91),
    ("USW00023183", "spring"): ("recent", 57, 22.69, 10.01, -7.41),
    ("USW00094728", "spring"): ("trend", 121, 0.20, 0.31, -0.89),
    ("ASN00064008", "autumn"): ("all", 32, -0.16, -0.39, -1.37),
    ("USC00042319", "autumn"): ("all", 31, -0.25, -0.26, 0.45),
    ("USW00012960", "autumn"): ("trend", 26, 0.57, 0.77, 3.75),
    ("USW00013904", "autumn"): ("trend", 20, 0.43, 1.58, -2.59),
    ("USW00014819", "autumn"): ("all", 0, None, None, 8.18),
    ("USW00023174", "autumn"): ("recent", 51, 1.35, -0.43, -10.91),
    ("USW00023183", "autumn"): ("recent", 55, 26.34, 8.48, 6.09),
    ("USW00094728", "autumn"): ("all", 121, -0.01, 0.06, 0.73),
}
FIND = {"spring": last_frosts, "autumn": first_frosts}


@pytest.fixture(scope="module")
def records(reference: Path) -> dict[tuple[str, str], FrostDates]:
    found = {}
    for station in dict.fromkeys(station for station, _ in CHOSEN):
        minima = read_minima(reference / "ghcnd" / "tmin" / f"{station}.dly")
        minima = minima.leave_out(find_suspects(minima).dates)
        for side, find in FIND.items():
            found[station, side] = find(minima, 0.0, find_hemisphere(minima))
    return found


@pytest.mark.parametrize(("station", "side"), CHOSEN)
def test_each_record_chooses_its_own_years(records, station, side):
    choice = choose_years(records[station, side])
    basis, judged, recent, trend, slope = CHOSEN[station, side]
    gains = {score.basis: score.gain_days for score in choice.scores}

    assert (choice.basis, choice.judged) == (basis, judged)
    assert (gains.get("recent"), gains.get("trend")) == (
        recent if recent is None else pytest.approx(recent, abs=0.01),
        trend if trend is None else pytest.approx(trend, abs=0.01),
    )
    assert choice.trend.days_per_decade == pytest.approx(slope, abs=0.01)


@pytest.mark.parametrize("station", ["USW00094728", "USW00013904", "USW00014819"])
@pytest.mark.parametrize("side", FIND)
def test_other_packages_find_the_same_trend_where_every_season_freezes(records, station, side):
    frosts = records[station, side]
    trend, years = choose_years(frosts).trend, frosts.years[frosts.day == frosts.day]
    test, slope = pymannkendall.original_test(frosts.known), stats.theilslopes(frosts.known, years)

    assert trend.dates == trend.seasons
    assert (trend.s, trend.z) == (test.s, pytest.approx(test.z))
    assert (trend.days_per_decade, trend.low, trend.high) == pytest.approx(
        (10 * slope.slope, 10 * slope.low_slope, 10 * slope.high_slope)
    )


def test_chance_alone_would_not_move_so_many_records(records):
    """In spring half the records leave all years; without a trend one in twenty would."""
    left = [choose_years(records[place]).basis != "all" for place in CHOSEN if place[1] == "spring"]

    assert stats.binomtest(sum(left), len(left), 0.05, alternative="greater").pvalue < 0.001
