"""Which product feeds which phase. Numbers of the phases: common practice, no source."""

import pytest

from frostgate.feeding.phases import default_phases, is_balanced, missing_phases, suits
from frostgate.feeding.stop import PRACTICE
from frostgate.model.feedings import Analysis, Phase
from tests.season_cases import FIRST, GRAINS, MEAL, PRODUCTS, RIPENING, ROW, SALT, STEADY, group, product


def phases_of(*products):
    return {phase.name: phase for phase in default_phases(products)}


def fed(phase):
    return [portion.product for portion in phase.portions]


def test_the_season_has_six_phases_each_with_its_product():
    phases = phases_of(*PRODUCTS)

    assert {name: fed(phase) for name, phase in phases.items()} == {
        "wake-up": ["First feed"],
        "build-up": ["Steady feed"],
        "fruiting": ["Ripening feed"],
        "fruit set": ["Ripening feed", "Epsom salt"],
        "top-dressing": ["Grains"],
        "in the ground": ["Meal"],
    }
    assert {phase.source for phase in phases.values()} == {PRACTICE}
    assert {portion.strength for phase in phases.values() for portion in phase.portions} == {1.0}


@pytest.mark.parametrize(
    ("name", "kind", "anchor", "after", "every", "feedings"),
    [
        ("wake-up", "liquid", "gate", 0, 10, 2),
        ("build-up", "liquid", "first feeding", 28, 14, None),
        ("fruiting", "liquid", "fruit set", 0, 14, None),
        ("fruit set", "liquid", "fruit set", 0, 14, 1),
        ("top-dressing", "top-dressing", "first feeding", 0, 14, None),
        ("in the ground", "top-dressing", "gate", 0, 365, 1),
    ],
)  # common practice, no source
def test_the_numbers_of_a_phase(name, kind, anchor, after, every, feedings):
    phase = phases_of(*PRODUCTS)[name]

    assert (phase.kind, phase.anchor, phase.after_days) == (kind, anchor, after)
    assert (phase.every_days, phase.feedings) == (every, feedings)


def test_the_feed_that_nitrogen_leads_most_wakes_the_trees():
    more = product("More", 30, 5, 5)
    assert fed(phases_of(FIRST, more)["wake-up"]) == ["More"]


def test_an_organic_feed_leads_only_where_no_mineral_one_does():
    fish = product("Fish", 60, 1, 1, organic=True, form="liquid")
    assert fed(phases_of(fish, FIRST)["wake-up"]) == ["First feed"]
    assert fed(phases_of(fish, STEADY)["wake-up"]) == ["Fish"]


def test_of_equals_the_one_listed_first_is_taken():
    twin = product("Twin", 17, 5, 9)
    assert fed(phases_of(twin, FIRST)["wake-up"]) == ["Twin"]


def test_the_evenest_feed_builds_up():
    assert fed(phases_of(product("Odd", 20, 15, 18), STEADY)["build-up"]) == ["Steady feed"]


def test_fruiting_takes_most_potassium_with_phosphorus_before_without():
    potash = product("Potash", 0, 0, 50)
    assert fed(phases_of(potash, RIPENING, STEADY)["fruiting"]) == ["Ripening feed"]
    assert fed(phases_of(potash)["fruiting"]) == ["Potash"]


def test_nitrogen_does_not_lead_in_fruiting():
    assert "fruiting" not in phases_of(FIRST)


def test_magnesium_alone_is_fed_where_no_fruit_feed_is_listed():
    assert fed(phases_of(SALT)["fruit set"]) == ["Epsom salt"]


def test_a_fruit_feed_that_holds_the_magnesium_is_fed_once_in_the_mix():
    both = product("Both", 0, 10, 30, mg=2.0)
    assert fed(phases_of(both)["fruit set"]) == ["Both"]


def test_plain_magnesium_comes_before_magnesium_with_potassium():
    assert (
        fed(phases_of(RIPENING, product("Mixed", 0, 0, 22, mg=11.0), SALT)["fruit set"])[-1] == "Epsom salt"
    )


def test_a_granular_feed_in_the_ground_comes_before_a_liquid_one():
    tea = product("Tea", 3, 3, 3, organic=True, form="liquid")
    assert fed(phases_of(tea, MEAL)["in the ground"]) == ["Meal"]
    alone = phases_of(tea)["in the ground"]
    assert (fed(alone), alone.kind) == (["Tea"], "liquid")


def test_a_mineral_product_never_goes_into_the_ground():
    assert "in the ground" not in phases_of(FIRST, STEADY, GRAINS)


def test_a_product_without_a_rate_feeds_no_phase():
    unrated = [
        product(p.name, p.analysis.n, p.analysis.p2o5, p.analysis.k2o, grams=0) for p in (FIRST, STEADY)
    ]
    assert default_phases(unrated) == ()


def test_a_granular_product_by_the_height_of_a_tree_dresses_no_pot():
    assert "top-dressing" not in phases_of(MEAL)


@pytest.mark.parametrize(
    ("without", "phase", "says"),
    [
        (
            FIRST,
            "wake-up",
            "No wake-up: no soluble or liquid product with a rate for water is led by nitrogen.",
        ),
        (GRAINS, "top-dressing", "No top-dressing: no granular product with a rate for a pot is balanced"),
        (MEAL, "in the ground", "No feed in the ground: no organic product with a rate is balanced"),
        (SALT, "fruit set", "No magnesium at fruit set: no soluble or liquid product"),
    ],
)
def test_a_phase_that_no_product_suits_is_left_out_and_named(without, phase, says):
    rest = [one for one in PRODUCTS if one is not without]

    assert phase not in phases_of(*rest)
    assert [note for note in missing_phases(rest, [group(), ROW]) if note.startswith(says)]
    assert len(list(missing_phases(rest, [group(), ROW]))) == 1


def test_only_what_the_groups_need_is_missed():
    assert [note.split(":")[0] for note in missing_phases([], [ROW])] == ["No feed in the ground"]
    assert [note.split(":")[0] for note in missing_phases([], [group(per_pot_l=None)])] == ["No top-dressing"]
    assert list(missing_phases(PRODUCTS, [group(), ROW])) == []


@pytest.mark.parametrize(
    ("numbers", "balanced"),
    [((12, 11, 13), True), ((6, 4, 5), True), ((12, 6, 11), False), ((17, 5, 9), False), ((0, 0, 0), False)],
)
def test_balanced_means_that_none_is_twice_another(numbers, balanced):
    n, p2o5, k2o = numbers
    assert is_balanced(Analysis(n=n, p2o5=p2o5, k2o=k2o)) is balanced


def phase(name="build-up", kind="liquid", groups=()):
    return Phase(name=name, kind=kind, anchor="gate", after_days=0, every_days=14, portions=(), groups=groups)


@pytest.mark.parametrize(
    ("one", "plum", "row", "dry"),
    [
        (phase(), True, False, False),
        (phase(kind="top-dressing"), True, False, True),
        (phase("in the ground", "top-dressing"), False, True, False),
        (phase(groups=("row",)), False, True, False),
        (phase(groups=("plums", "dry")), True, False, True),
    ],
)
def test_a_phase_feeds_the_groups_it_names_or_those_of_its_kind(one, plum, row, dry):
    groups = (group(), ROW, group("dry", per_pot_l=None))
    assert tuple(suits(one, each) for each in groups) == (plum, row, dry)


def test_cuttings_are_top_dressed_only_where_a_phase_names_them():
    """A label's rate for a pot is meant for a tree's pot, not for a quart."""
    cuttings = group(name="cuttings", stage="cutting")
    grains = phases_of(*PRODUCTS)["top-dressing"]
    named = Phase(name="top-dressing", kind="top-dressing", anchor="gate", after_days=0, every_days=14,
                  portions=grains.portions, groups=("cuttings",))  # fmt: skip

    assert not suits(grains, cuttings)
    assert suits(grains, group(name="old", stage="established"))
    assert suits(named, cuttings)
