"""What an entry must hold; what was fed, as one; what entries tell the season and the morning."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.garden.entries import (
    DEEPEST_BODY,
    LONGEST_BODY,
    Fed,
    body_text,
    check_entry,
    done_feedings,
    feeding_body,
    forecast_log,
    latest,
    parse_fed,
)
from frostgate.garden.journal import new_entry
from frostgate.model.feedings import Done, Phase, Portion
from tests.journal_cases import (
    CUTTINGS,
    DAY,
    EPSOM_SALT,
    FIRST_FEED,
    GRANULES,
    NOW,
    OLD_PLUMS,
    TODAY,
    event,
    feeding,
    forecast,
    make_garden,
    minimum,
    one_of_each,
)

NIGHT = {"morning": "2026-04-13", "tmin_c": 1.0, "sd_c": 0.5}
FED = {"product": "First feed", "grams": 30}


def with_body(kind, **changes):
    entry = next(each for each in one_of_each() if each.kind == kind)
    return replace(entry, body=entry.body | changes)


@pytest.mark.parametrize("entry", one_of_each(), ids=lambda entry: entry.kind)
def test_an_entry_of_each_kind_is_fit(entry):
    check_entry(entry)


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        ("feeding", {"phase": None, "pots": None, "n_per_pot_mg": None, "doses": []}),
        ("feeding", {"doses": [FED], "feeding_kind": "top-dressing", "sun": "shining"}),
        ("minimum", {"tmin_c": -40}),
        ("minimum", {"tmin_c": np.float64(-1.5)}),
        ("forecast", {"nights": []}),
        ("forecast", {"nights": [NIGHT], "source": None, "issued_at": "2026-04-12 06:00:00"}),
        ("verdict", {"state": "unknown", "risk_today": None, "earliest_date": None, "inputs": None}),
    ],
)
def test_what_is_not_known_may_be_left_out_and_more_may_be_told(kind, changes):
    check_entry(with_body(kind, **changes))


@pytest.mark.parametrize(
    ("kind", "name", "value"),
    [
        ("feeding", "phase", 3),
        ("feeding", "feeding_kind", "drip"),
        ("feeding", "feeding_kind", None),
        ("feeding", "doses", None),
        ("feeding", "doses", "First feed"),
        ("feeding", "doses", ["First feed"]),
        ("feeding", "doses", [FED | {"grams": 0}]),
        ("feeding", "doses", [FED | {"grams": "30"}]),
        ("feeding", "doses", [{"grams": 30}]),
        ("feeding", "pots", 0),
        ("feeding", "pots", 2.5),
        ("feeding", "pots", True),
        ("feeding", "pots", "12"),
        ("feeding", "n_per_pot_mg", -1),
        ("bud break", "note", 7),
        ("minimum", "tmin_c", None),
        ("minimum", "tmin_c", True),
        ("minimum", "tmin_c", 212.0),  # no place on earth: it was 57.6 °C at most, before it was withdrawn
        ("minimum", "tmin_c", "-1.5"),
        ("forecast", "issued_at", None),
        ("forecast", "issued_at", "2026-04-12T06:00Z"),
        ("forecast", "issued_at", "this morning"),
        ("forecast", "nights", [NIGHT | {"morning": "13 April"}]),
        ("forecast", "nights", [NIGHT | {"morning": None}]),
        ("forecast", "nights", [NIGHT | {"tmin_c": 999}]),
        ("forecast", "nights", [NIGHT | {"sd_c": -1}]),
        ("forecast", "nights", ["2026-04-13"]),
        ("verdict", "state", "ajar"),
        ("verdict", "state", ["open"]),
        ("verdict", "risk_today", 1.5),
        ("verdict", "earliest_date", "2026-02-30"),
        ("verdict", "reasons", [1]),
        ("verdict", "inputs", []),
    ],
)
def test_a_fact_of_the_wrong_shape_is_named(kind, name, value):
    with pytest.raises(InputError, match=f"the {name} of a {kind} is not"):
        check_entry(with_body(kind, **{name: value}))


@pytest.mark.parametrize("kind", ["feeding", "bud break", "fruit set"])
def test_what_is_told_of_pots_names_their_group(kind):
    with pytest.raises(InputError, match="of no group"):
        check_entry(replace(with_body(kind), group=None))


@pytest.mark.parametrize("kind", ["minimum", "forecast", "verdict"])
def test_what_is_told_of_the_garden_names_no_group(kind):
    with pytest.raises(InputError, match="of the whole garden"):
        check_entry(replace(with_body(kind), group="old plums"))


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"id": ""}, "not an entry's id"),
        ({"id": "x" * 65}, "not an entry's id"),
        ({"id": "a b"}, "not an entry's id"),
        ({"id": "-rf"}, "not an entry's id"),
        ({"kind": "nap"}, "no entry is of this kind"),
        ({"made_at": NOW.replace(tzinfo=dt.UTC)}, "offset from UTC"),
        ({"undoes": "another"}, "an undo names"),
        ({"kind": "undo"}, "an undo names"),
        ({"kind": "undo", "id": "me", "undoes": "me"}, "an undo names"),
        ({"group": " old plums"}, "not the name of a group"),
        ({"group": ""}, "not the name of a group"),
        ({"group": "old\nfigs"}, "not the name of a group"),
        ({"group": "old \ud800"}, "not the name of a group"),
    ],
)
def test_what_is_no_entry_is_refused(changes, what):
    with pytest.raises(InputError, match=what):
        check_entry(replace(event("growth"), **changes))


@pytest.mark.parametrize(
    "note",
    [
        math.nan,
        math.inf,
        {1: "a"},
        {"a", "b"},
        b"bytes",
        "half \ud83c",
        2**63,
        NOW,
        [[math.nan]],
        {"\udc00": 1},
    ],
)
def test_what_json_cannot_hold_is_refused(note):
    with pytest.raises(InputError, match="not plain JSON"):
        check_entry(replace(minimum(), body={"tmin_c": 1.0, "extra": note}))


def test_a_body_is_neither_too_deep_nor_too_long():
    deep = "leaf"
    for _ in range(DEEPEST_BODY):
        deep = [deep]
    with pytest.raises(InputError, match="not plain JSON"):
        body_text({"note": deep})
    assert body_text({"note": deep[0]})
    with pytest.raises(InputError, match="too long"):
        check_entry(event("growth", note="x" * LONGEST_BODY))
    check_entry(event("growth", note="x" * (LONGEST_BODY - 100)))


def test_the_same_body_is_written_in_the_same_way():
    assert body_text({"b": "½", "a": 1}) == body_text({"a": 1, "b": "½"}) == '{"a": 1, "b": "½"}'


WAKE_UP = Phase(name="early", kind="liquid", anchor="gate", after_days=0, every_days=10,
                portions=(Portion(product="First feed", strength=1.0),))  # fmt: skip
LAID = Phase(name="laid", kind="top-dressing", anchor="gate", after_days=0, every_days=14,
             portions=(Portion(product="Granules", strength=1.0),))  # fmt: skip
GARDEN = make_garden(phases=(WAKE_UP, LAID))


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("First feed=30 g", 30.0),
        ("First feed = 30g", 30.0),
        ("First feed=2 oz", 56.699),  # 1 oz av = 28.349523125 g, NIST Handbook 44 appendix C
        ("First feed=2 tbsp", 30.6),  # 15.3 g a tablespoon, as its label states here
        ("First feed=1 cup", 16 * 15.3),  # 16 tablespoons
        ("Epsom salt=10 ml", 10.0),
    ],
)
def test_a_mass_or_a_volume_comes_to_grams_by_the_products_density(text, grams):
    assert parse_fed(text, GARDEN).grams == pytest.approx(grams, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "what"),
    [("First feed", "not a product and its amount"), ("Autumn feed=30 g", "no product of this name"),
     ("First feed=30", "not a volume or mass|not a mass or volume"), ("First feed=0 g", "above 0"),
     ("=30 g", "no product"), ("First feed=", "not a mass")],
)  # fmt: skip
def test_what_is_no_product_and_amount_is_refused(text, what):
    with pytest.raises(InputError, match=what):
        parse_fed(text, GARDEN)


def test_a_name_may_hold_an_equals_sign():
    named = make_garden(products=(replace(FIRST_FEED, name="A=B"),))
    assert parse_fed("A=B=5 g", named).product.name == "A=B"


def test_nitrogen_for_each_pot_is_that_of_all_products_over_all_pots():
    fed = [Fed(product=FIRST_FEED, grams=100.0), Fed(product=EPSOM_SALT, grams=50.0)]
    body = feeding_body(GARDEN, OLD_PLUMS, fed, phase="early", pots=20)
    assert body == {
        "phase": "early", "feeding_kind": "liquid", "pots": 20,
        "doses": [{"product": "First feed", "grams": 100.0}, {"product": "Epsom salt", "grams": 50.0}],
        "n_per_pot_mg": 850.0,  # 100 g x 17 % / 20 pots
    }  # fmt: skip
    check_entry(new_entry("feeding", made_at=NOW, group="old plums", body=body))


def test_without_products_the_nitrogen_is_not_known_and_all_pots_were_fed():
    body = feeding_body(GARDEN, CUTTINGS, ())
    assert (body["n_per_pot_mg"], body["pots"], body["phase"], body["doses"]) == (None, 5, None, [])


def test_a_trace_is_not_rounded_away():
    body = feeding_body(GARDEN, OLD_PLUMS, [Fed(product=FIRST_FEED, grams=0.00012345678)])
    assert body["doses"][0]["grams"] == 0.000123457


@pytest.mark.parametrize(
    ("products", "phase", "laid", "kind"),
    [
        ((), None, False, "liquid"),
        ((), None, True, "top-dressing"),
        ((), "laid", False, "top-dressing"),
        ((FIRST_FEED,), "early", False, "liquid"),
        ((GRANULES,), None, False, "top-dressing"),
        ((GRANULES,), "laid", True, "top-dressing"),
        ((EPSOM_SALT,), None, True, "top-dressing"),
        ((GRANULES, EPSOM_SALT), "laid", False, "top-dressing"),
    ],
)
def test_what_is_laid_on_the_soil_is_a_top_dressing(products, phase, laid, kind):
    fed = [Fed(product=product, grams=5.0) for product in products]
    assert feeding_body(GARDEN, OLD_PLUMS, fed, phase=phase, laid=laid)["feeding_kind"] == kind


@pytest.mark.parametrize(
    ("products", "given", "what"),
    [
        ((GRANULES, FIRST_FEED), {}, "laid on the soil, not poured"),
        ((GRANULES,), {"phase": "early"}, "a top-dressing in a liquid phase"),
        ((), {"phase": "early", "laid": True}, "a top-dressing in a liquid phase"),
        ((FIRST_FEED, FIRST_FEED), {}, "named twice"),
        ((), {"phase": "late"}, "no phase of this name"),
        ((), {"pots": 25}, "no such number of pots"),
        ((), {"pots": 0}, "no such number of pots"),
    ],
)
def test_a_feeding_that_cannot_be_meant_is_refused(products, given, what):
    fed = [Fed(product=product, grams=5.0) for product in products]
    with pytest.raises(InputError, match=what) as refused:
        feeding_body(GARDEN, OLD_PLUMS, fed, **given)
    assert refused.value.remedy


def test_a_garden_without_phases_knows_those_made_from_its_products():
    with pytest.raises(InputError, match="no phase") as refused:
        feeding_body(make_garden(products=()), OLD_PLUMS, (), phase="early")
    assert refused.value.remedy == "It has: none."


EARLIER = NOW - dt.timedelta(hours=1)


def test_feedings_come_in_order_with_their_nitrogen_in_grams():
    late = feeding(TODAY, "old plums", phase=None, n_per_pot_mg=None, feeding_kind="top-dressing")
    early = feeding(TODAY - DAY, "cuttings", n_per_pot_mg=150.0)
    assert done_feedings([late, minimum(), early]) == (
        Done(on=TODAY - DAY, group="cuttings", phase="wake-up", kind="liquid", n_per_pot_g=0.15),
        Done(on=TODAY, group="old plums", phase=None, kind="top-dressing"),
    )


def test_a_feeding_of_which_little_is_told_is_a_feeding():
    bare = feeding()
    told = type(bare)(id="1", made_at=NOW, on=TODAY, kind="feeding", group="old plums",
                      body={"feeding_kind": "liquid", "doses": []})  # fmt: skip
    assert done_feedings([told]) == (Done(on=TODAY, group="old plums", phase=None, kind="liquid"),)


def test_of_an_event_the_last_that_was_written_counts_for_each_group():
    wrong = event("bud break", TODAY)
    mended = event("bud break", TODAY - 3 * DAY, made_at=EARLIER)  # by a clock that was set back
    other = event("bud break", TODAY - 9 * DAY, "cuttings")
    last_year = event("bud break", TODAY - 370 * DAY, "new pears")
    entries = [wrong, other, last_year, mended, event("fruit set"), event("growth", group=None)]
    since = TODAY - 200 * DAY
    assert latest(entries, "bud break", since) == (
        ("cuttings", TODAY - 9 * DAY),
        ("old plums", TODAY - 3 * DAY),
    )
    assert latest(entries, "fruit set", since) == (("old plums", TODAY),)
    assert latest(entries, "growth", since) == ()
    assert latest(entries, "fruit set", TODAY + DAY) == ()
    assert latest([wrong], "bud break", TODAY) == (("old plums", TODAY),)


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
        minimum(-0.5, dt.date(2026, 4, 12), EARLIER),
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
    second = forecast(again, {"2026-04-12": 7.0, "2026-04-13": 4.0}, EARLIER)
    assert forecast_log([first, second]).forecast_c.tolist() == [2.0, 4.0]


def test_a_night_that_was_past_when_its_forecast_was_made_is_left_out():
    log = forecast_log([forecast("2026-04-12T06:01", {"2026-04-12": 2.0, "2026-04-13": 4.0})])
    assert log.mornings.astype(str).tolist() == ["2026-04-13"]


def test_entries_of_every_kind_may_be_given_at_once():
    entries = one_of_each()
    assert len(done_feedings(entries)) == forecast_log(entries).size == 1
