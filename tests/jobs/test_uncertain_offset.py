"""An offset that is not known for sure, end to end, on the invented sample data."""

from __future__ import annotations

import math

import pytest


@pytest.fixture
def edge(run, samples):
    def _edge(*more):
        given = ("--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_edge.json")
        return run("today", *given, "--on", "2026-05-10", "--offset", "-2F", *more, "--format", "json")

    return _edge


def test_an_uncertain_offset_widens_every_nights_error(edge):
    sure, unsure = edge().json["nights"], edge("--offset-spread", "2F").json["nights"]

    for known, guessed in zip(sure, unsure, strict=True):
        assert guessed["sd_c"] == pytest.approx(math.hypot(known["sd_c"], 2 / 1.8), abs=0.011)


def test_a_stated_difference_from_the_forecast_is_taken_as_sure(edge):
    offsets = ("--forecast-offset", "-2F")

    assert edge(*offsets, "--offset-spread", "2F").json["nights"] == edge(*offsets).json["nights"]


def test_an_uncertain_offset_gives_another_curve(edge):
    sure, unsure = edge().json["risk_parts"], edge("--offset-spread", "3F").json["risk_parts"]

    assert sure["beyond_by_curve"] != unsure["beyond_by_curve"]


@pytest.mark.parametrize("spread", ["-1F", "1.5", "wide"])
def test_a_spread_that_is_none_is_refused(edge, spread):
    refused = edge("--offset-spread", spread)

    assert refused.status == 2
    assert spread in refused.json["error"]["what"]
