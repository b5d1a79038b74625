"""What a coming frost can hurt, group by group."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostgate.feeding.protection import LEVELS, tissue_of, warn_of_frost
from frostgate.model.feedings import Done, SeasonFacts
from frostgate.model.garden import PotGroup
from frostgate.model.gate import Night, Policy
from frostgate.units import celsius

DAY = dt.date(2026, 4, 20)


def night(low_f, chance=0.0, ahead=1):
    low_c = celsius(float(low_f))
    return Night(
        morning=DAY + dt.timedelta(days=ahead), garden_c=low_c, margin_c=low_c, sd_c=1.8, lead_days=ahead,
        chance=chance,
    )  # fmt: skip


def trees(stage="established", winters="outdoors", movable=False, **changes):
    pot_l = None if stage == "in the ground" else 26.0
    given = {"name": "plums", "tree": "plum", "count": 3, "stage": stage, "pot_l": pot_l, "winters": winters}
    return PotGroup(**(given | {"movable": movable} | changes))


def levels(low_f, tissue, group=None, chance=0.0):
    found = warn_of_frost([night(low_f, chance)], [(group or trees("in the ground"), tissue)], Policy())
    return {warning.part: warning.level for warning in found}


@pytest.mark.parametrize(
    ("low_f", "level"),
    [
        (12, None),  # dormant Ficus carica endures 10 °F with little damage (McEachern, Texas A&M, 1996)
        (9, "protect"),
        (4, "severe"),  # grown where minima stay above 5 °F (Kamas et al., AgriLife EHT-019, 2013)
    ],
)
def test_dormant_wood_of_a_fig_in_the_ground(low_f, level):
    assert levels(low_f, "dormant").get("wood") == level


# Temperatures [°F] that kill a tenth of the buds or blossoms within half an hour: Penn State Extension,
# Orchard Frost: Critical Temperatures for Various Fruits (after WSU EB0913, EB0914, EB0978 and EB1128).
A_TENTH_KILLED = [
    *(("apple, green tip", "buds", 18), ("peach, calyx green", "buds", 21)),
    *(("pear, blossom buds exposed", "buds", 20), ("sweet cherry, green tip", "buds", 25)),
    *(("apple, post bloom", "tender growth", 28), ("peach, post bloom", "tender growth", 28)),
    *(("pear, post bloom", "tender growth", 28), ("sweet cherry, post bloom", "tender growth", 28)),
]


@pytest.mark.parametrize(("stage", "tissue", "low_f"), A_TENTH_KILLED)
def test_where_fruit_trees_lose_a_tenth_protection_is_asked_for(stage, tissue, low_f):
    """No table of every fruit was found, so the limits must not be colder than those of these four."""
    asked = {"tender growth": {"severe"}, "buds": {"protect", "severe"}}[tissue]
    assert levels(low_f, tissue)[tissue] in asked, stage


def test_roots_in_a_pot_are_at_risk_long_before_the_wood():
    """Young roots of woody plants were killed at 20 to 25 °F (Dirr & Smith, Univ. of Georgia, 1983-84)."""
    assert levels(20, "dormant", trees()) == {"roots": "severe"}
    assert levels(24, "dormant", trees()) == {"roots": "watch"}
    assert levels(26, "dormant", trees()) == {}


@pytest.mark.parametrize(
    ("low_f", "level"),
    [
        (37, None),
        (36, "watch"),  # Frost Advisory at 33 to 36 °F (NWS Blacksburg, Fall 2007)
        (34, "watch"),
        (32, "protect"),  # light freeze: tender plants killed, 29 to 32 °F (NWS)
        (29, "protect"),
        (28, "severe"),  # from memory: green shoots are killed
    ],
)
def test_tender_growth(low_f, level):
    assert levels(low_f, "tender growth").get("tender growth") == level


def test_a_likely_frost_is_watched_even_where_the_forecast_stays_above_it():
    assert levels(39, "tender growth", chance=0.12) == {"tender growth": "watch"}
    assert levels(39, "tender growth", chance=0.08) == {}


def test_swelling_buds_bear_a_little_more_than_leaves():
    """From memory."""
    assert levels(33, "buds") == {}
    assert levels(32, "buds") == {"buds": "watch"}
    assert levels(28, "buds") == {"buds": "protect"}


@pytest.mark.parametrize("stage", ["newly potted", "cutting"])
def test_young_dormant_trees_are_hurt_much_earlier(stage):
    """At -2 to -4 °C, from memory."""
    assert levels(28, "dormant", trees(stage))["wood"] == "protect"
    assert levels(24, "dormant", trees(stage))["wood"] == "severe"
    assert "wood" not in levels(24, "dormant", trees())


@pytest.mark.parametrize("room", ["unheated room", "heated room"])
def test_dormant_trees_in_a_room_are_not_out_in_the_frost(room):
    assert levels(0, "dormant", trees(winters=room)) == {}
    assert levels(30, "tender growth", trees(winters=room)) != {}


def test_the_worst_night_of_each_group_is_told_the_worst_first():
    nights = [night(34, ahead=1), night(27, ahead=3), night(26, ahead=4), night(31, ahead=5)]
    plums, bay = trees("in the ground"), trees("in the ground", name="bay")
    found = warn_of_frost(nights, [(bay, "buds"), (plums, "tender growth")], Policy())
    assert [(one.group, one.level, one.morning.day) for one in found] == [
        ("plums", "severe", 24), ("bay", "protect", 24),
    ]  # fmt: skip


def test_a_lower_damage_temperature_moves_what_is_protected():
    found = warn_of_frost(
        [night(31)], [(trees("in the ground"), "tender growth")], Policy(damage_temp_c=-2.0)
    )
    assert found[0].level == "watch"


def test_what_can_be_moved_is_moved_and_what_cannot_is_covered():
    def measures(group):
        found = warn_of_frost([night(30)], [(group, "tender growth")], Policy())
        return " ".join(found[0].measures)

    assert "under cover" in measures(trees(movable=True))
    assert "cover them down to the ground" in measures(trees())
    assert "water dry root balls" in measures(trees())
    assert "water" not in measures(trees("in the ground"))
    assert "no feeding until it has passed" in measures(trees())


@given(st.floats(-20, 45), st.floats(0.1, 20), st.sampled_from(["dormant", "buds", "tender growth"]))
def test_a_colder_night_is_never_warned_of_less(low_f, colder_f, tissue):
    group = trees()
    mild, cold = levels(low_f, tissue, group), levels(low_f - colder_f, tissue, group)
    assert all(LEVELS.index(cold[part]) >= LEVELS.index(level) for part, level in mild.items())


@pytest.mark.parametrize(
    ("facts", "tissue"),
    [
        ({}, "dormant"),
        ({"bud_break": (("plums", DAY - dt.timedelta(days=13)),)}, "buds"),
        ({"bud_break": (("plums", DAY - dt.timedelta(days=14)),)}, "tender growth"),
        ({"bud_break": (("others", DAY),)}, "dormant"),
        ({"gate_open": True}, "tender growth"),  # what is not known is not taken to be hardy
        ({"done": (Done(on=DAY, group="plums", phase=None, kind="liquid"),)}, "tender growth"),
        ({"done": (Done(on=DAY, group="others", phase=None, kind="liquid"),)}, "dormant"),
        ({"done": (Done(on=DAY, group="", phase=None, kind="top-dressing"),)}, "tender growth"),  # of all
    ],
)
def test_what_stands_on_the_wood_is_told_by_what_was_logged(facts, tissue):
    assert tissue_of(trees(), SeasonFacts(today=DAY, **facts)) == tissue


def test_logged_growth_is_tender_and_fallen_leaves_are_not():
    facts = SeasonFacts(today=DAY, gate_open=True, leaves_off=DAY)
    assert tissue_of(trees(), SeasonFacts(today=DAY, growth=(("plums", DAY),))) == "tender growth"
    assert tissue_of(trees(), facts) == "dormant"
    assert tissue_of(trees(), replace(facts, leaves_off=DAY + dt.timedelta(days=1))) == "tender growth"
