"""The one walk from values to JSON, and the facts of a curve."""

from __future__ import annotations

import dataclasses
import datetime as dt
import enum
import json
import math
from pathlib import Path

import numpy as np
import pytest

from frostgate.show.answers import DIGITS, curve_facts, named, plain
from tests.gate_cases import TODAY, make_curve, ramp


@dataclasses.dataclass
class Night:
    morning: dt.date
    low_c: float
    p: float = 0.12345678


class Side(enum.Enum):
    SPRING = "spring"


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (Night(TODAY, -1.23456), {"morning": "2026-05-10", "low_c": -1.2346, "p": 0.123457}),
        (dt.datetime(2026, 5, 10, 6), "2026-05-10T06:00:00"),
        (np.array(["2026-05-10"], dtype="M8[D]"), ["2026-05-10"]),
        (np.array([[0.5, math.nan]]), [[0.5, None]]),
        ((math.inf, -math.inf, np.float64(1.00004), np.int64(3), np.True_), [None, None, 1.0, 3, True]),
        ({"risk_tolerance": 1 / 3, 2: Side.SPRING}, {"risk_tolerance": 1 / 3, "2": "spring"}),
        ({"threshold_c": (0.12345, {"share": 0.98765})}, {"threshold_c": [0.123, {"share": 0.988}]}),
        ((Path("a/b.dly"), "text", None), ["a/b.dly", "text", None]),
    ],
)
def test_a_value_becomes_what_json_holds(value, expected):
    found = plain(value)
    assert found == expected
    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_an_answer_may_round_its_own_keys_otherwise():
    assert plain({"low_c": 1.2345, "p": 0.1234567}, DIGITS | {"low_c": 1}) == {"low_c": 1.2, "p": 0.123457}


def test_what_has_no_form_in_json_is_refused():
    with pytest.raises(TypeError, match="object has no form in JSON"):
        plain({"a": object()})


def test_a_path_is_named_by_its_end_or_anew_and_leads_to_none_where_something_lacks():
    held = dataclasses.make_dataclass("Held", ["nights", "lost"])((Night(TODAY, -1.0),), None)
    assert named(held, "nights.0.low_c", "year=nights.-1.morning.year") == {"low_c": -1.0, "year": 2026}
    assert named(held, "lost.low_c", "first=lost.0") == named(None, "low_c", "first=0")
    assert named(None, "a.low_c", "first=0") == {"low_c": None, "first": None}


def test_the_facts_of_a_curve():
    facts = curve_facts(ramp(TODAY, 40.0, share=0.9, kind="smooth", seasons_unknown=2))
    assert (facts["season"], facts["kind"], facts["frost_share"]) == ("spring", "smooth", 0.9)
    assert facts["median_date"] == "05-08"  # 0.9 * (0.5 - k / 40) = 0.5 at k = -2.2
    assert (facts["threshold_c"], facts["seasons_used"], facts["seasons_unknown"]) == (0.0, 30, 2)
    assert curve_facts(make_curve(0.3))["median_date"] is None
