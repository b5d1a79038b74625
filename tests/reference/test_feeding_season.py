"""The feeding season against published dates and advice, and against the autumns of real stations."""

import datetime as dt

import numpy as np
import pytest

from frostgate.climate.site import know_site
from frostgate.feeding.phases import is_led_by_nitrogen
from frostgate.feeding.season import nitrogen_g, plan_season
from frostgate.feeding.stop import autumn_date
from frostgate.seasons import NORTH
from tests.reference.naive import FILES, read_record, read_tenths
from tests.season_cases import DAY, facts, garden, to_come

MILWAUKEE, CENTRAL_PARK, HOUSTON, LOS_ANGELES = "USW00014839", "USW00094728", "USW00012960", "USW00023174"

# Albany Intl AP, USW00014735, NCEI normals of 1991-2020, 32 °F, 10 %: last 05/11, first 10/03.
ALBANY = facts(
    dt.date(2026, 4, 1),
    gate=dt.date(2026, 5, 11),
    first_autumn_frost=dt.date(2026, 10, 3),
    fruit_set=(("plums", dt.date(2026, 6, 20)),),
)


def test_albanys_season_lies_within_published_advice():
    where = garden()
    programme = plan_season(where, ALBANY)

    assert programme.stop == dt.date(2026, 8, 15)  # 6 to 8 weeks before the 10 % date, from memory: 7
    last = max(feeding.date for feeding in programme.feedings if feeding.date)
    assert last < dt.date(2026, 9, 1)  # none while still growing in late summer (Illinois Extension 2016)
    led = [
        feeding.date
        for feeding in to_come(programme)
        if any(is_led_by_nitrogen(where.product(portion.product).analysis) for portion in feeding.portions)
    ]
    assert max(led) <= dt.date(2026, 7, 31)  # no highly available N after July (as quoted by an extension)


def test_nitrogen_no_longer_leads_once_fruit_is_set():
    where = garden()
    after = [f for f in to_come(plan_season(where, ALBANY)) if f.date >= dt.date(2026, 6, 20)]
    assert after
    for feeding in after:
        shares = [where.product(portion.product).analysis for portion in feeding.portions]
        assert sum(one.k2o for one in shares) >= sum(one.n for one in shares)
        assert nitrogen_g(where, where.group("plums"), feeding) < 0.5  # 6 % of 4 g


def first_freezes(reference, station, years=30):
    """Find, by hand, the days from 1 August to the first minimum of 0 °C or less of the last years."""
    tenths = read_tenths(reference / FILES[station])
    last = max(tenths).year - 1
    found = []
    for year in range(last - years + 1, last + 1):
        august = dt.date(year, 8, 1)
        frosts = [day for day, tmin in tenths.items() if tmin <= 0 and august <= day < august + 300 * DAY]
        found.append((min(frosts, default=august + 300 * DAY) - august).days)
    return np.array(found)


@pytest.mark.parametrize("station", [MILWAUKEE, CENTRAL_PARK, HOUSTON])
def test_the_stop_lies_seven_weeks_before_nine_first_frosts_of_ten(reference, station):
    record = read_record(reference, station)
    site = know_site(record, 0.0, start=NORTH, autumn=True)
    month, day = map(int, site.curve.date_at(0.1).split("-"))
    opened = dt.date(2026, month, day)
    frost = autumn_date(site.autumn, 0.1, opened)

    programme = plan_season(garden(), facts(opened, gate=opened, first_autumn_frost=frost))

    weeks_later = (programme.stop + 49 * DAY - dt.date(2026, 8, 1)).days
    came = first_freezes(reference, station)
    # measured: 2 and 4 days late at Milwaukee and Houston, 10 early in Central Park, whose autumns grew later
    assert -11 <= weeks_later - np.quantile(came, 0.1) <= 5
    assert (came < weeks_later).sum() <= 7  # of 30 at a chance of 10 %: 0 to 7 inside 95 %, binomial


def test_a_station_that_never_froze_ends_its_season_with_the_equinox(reference):
    autumn = know_site(read_record(reference, LOS_ANGELES), 0.0, start=NORTH, autumn=True).autumn
    march = dt.date(2026, 3, 1)
    assert autumn is None or autumn_date(autumn, 0.1, march) is None
    assert plan_season(garden(), facts(march, gate=march, first_autumn_frost=None)).stop == dt.date(
        2026, 9, 22
    )
