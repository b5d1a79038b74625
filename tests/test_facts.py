"""What the journal's entries tell the season and the morning."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from frostgate.garden.entries import done_feedings, forecast_log, latest
from frostgate.model.feedings import Done
from tests.journal_cases import DAY, NOW, TODAY, event, feeding, forecast, minimum, one_of_each

LATER = NOW + dt.timedelta(hours=1)


def test_feedings_come_in_order_with_their_nitrogen_in_grams():
    late = feeding(TODAY, "old figs", phase=None, n_per_pot_mg=None, feeding_kind="top-dressing")
    early = feeding(TODAY - DAY, "cuttings", n_per_pot_mg=150.0)
    assert done_feedings([late, minimum(), early]) == (
        Done(on=TODAY - DAY, group="cuttings", phase="wake-up", kind="liquid", n_per_pot_g=0.15),
        Done(on=TODAY, group="old figs", phase=None, kind="top-dressing"),
    )


def test_a_feeding_of_which_little_is_told_is_a_feeding():
    bare = feeding()
    told = type(bare)(id="1", made_at=NOW, on=TODAY, kind="feeding", group="old figs",
                      body={"feeding_kind": "liquid", "doses": []})  # fmt: skip
    assert done_feedings([told]) == (Done(on=TODAY, group="old figs", phase=None, kind="liquid"),)


def test_of_an_event_the_last_that_was_written_counts_for_each_group():
    wrong = event("bud break", TODAY)
    mended = event("bud break", TODAY - 3 * DAY, made_at=LATER)
    other = event("bud break", TODAY - 9 * DAY, "cuttings")
    last_year = event("bud break", TODAY - 370 * DAY, "young pears")
    entries = [mended, other, last_year, wrong, event("fruit set"), event("growth", group=None)]
    since = TODAY - 200 * DAY
    assert latest(entries, "bud break", since) == (
        ("cuttings", TODAY - 9 * DAY),
        ("old figs", TODAY - 3 * DAY),
    )
    assert latest(entries, "fruit set", since) == (("old figs", TODAY),)
    assert latest(entries, "growth", since) == ()
    assert latest(entries, "fruit set", TODAY + DAY) == ()
    assert latest([wrong], "bud break", TODAY) == (("old figs", TODAY),)


def test_without_entries_nothing_is_known():
    assert forecast_log([minimum()]) is None
    assert forecast_log([forecast("2026-04-12T06:00", {"2026-04-13": None})]) is None
    assert done_feedings([]) == latest([], "bud break", TODAY) == ()


def test_forecast_nights_are_closed_by_the_minima_of_their_mornings():
    entries = [
        forecast("2026-04-10T18:00", {"2026-04-11": 3.0, "2026-04-12": 2.0, "2026-04-13": 1.0}),
        forecast("2026-04-11T06:00", {"2026-04-11": 9.0, "2026-04-12": 2.5, "2026-04-14": None}),
        minimum(0.5, dt.date(2026, 4, 11)),
        minimum(9.9, dt.date(2026, 4, 12)),
        minimum(-0.5, dt.date(2026, 4, 12), LATER),
    ]
    log = forecast_log(entries)
    rows = list(
        zip(log.issued.astype(str), log.mornings.astype(str), log.forecast_c, log.observed_c, strict=True)
    )
    assert rows[:2] == [
        ("2026-04-10T18:00", "2026-04-11", 3.0, 0.5),
        ("2026-04-10T18:00", "2026-04-12", 2.0, -0.5),
    ]
    assert np.isnan(rows[2][3])
    assert rows[3:] == [
        ("2026-04-11T06:00", "2026-04-11", 9.0, 0.5),
        ("2026-04-11T06:00", "2026-04-12", 2.5, -0.5),
    ]
    assert log.closed.size == 4


def test_of_two_minima_written_at_once_the_later_in_order_counts():
    night = forecast("2026-04-11T06:00", {"2026-04-12": 2.0})
    assert forecast_log([minimum(2.0), night, minimum(3.0)]).observed_c.tolist() == [3.0]


@pytest.mark.parametrize("again", ["2026-04-11T06:00", "2026-04-11T06:00:31"])
def test_an_issue_that_was_kept_twice_has_one_row_for_each_morning(again):
    first = forecast("2026-04-11T06:00", {"2026-04-12": 2.0})
    second = forecast(again, {"2026-04-12": 7.0, "2026-04-13": 4.0}, LATER)
    for order in ([first, second], [second, first]):
        log = forecast_log(order)
        assert log.forecast_c.tolist() == [2.0, 4.0]


def test_a_night_that_was_past_when_its_forecast_was_made_is_left_out():
    log = forecast_log([forecast("2026-04-12T06:01", {"2026-04-12": 2.0, "2026-04-13": 4.0})])
    assert log.mornings.astype(str).tolist() == ["2026-04-13"]


def test_entries_of_every_kind_may_be_given_at_once():
    entries = one_of_each()
    assert len(done_feedings(entries)) == forecast_log(entries).size == 1
