"""How much of a mild spell the rest of the spring keeps."""

from __future__ import annotations

import numpy as np
import pytest

from frostgate.climate.weather import MOST_EXPLAINED, SEASONS_WORTH, USUAL_PERSISTENCE, persistence


def drawn(seasons=30, lasting=0.0, seed=1):
    """Draw anomalies of which a part lasts the whole season."""
    rng = np.random.default_rng(seed)
    return rng.normal(0, 1, (seasons, 366)) + lasting * rng.normal(0, 1, (seasons, 1))


def slowly(anomaly):
    """Count by plain loops: past 60 days, and days 21 to 60 ahead, on every fifth day of late winter on."""
    joint, own = [], []
    for season in anomaly:
        pairs = [
            (season[day - 59 : day + 1].mean(), season[day + 20 : min(day + 60, 365)].mean())
            for day in range(180, 300, 5)
        ]
        joint.append(np.mean([past * ahead for past, ahead in pairs]))
        own.append(np.mean([past**2 for past, _ in pairs]))
    return np.array(joint), np.array(own)


@pytest.mark.parametrize("lasting", [0.0, 0.3, 1.0])
def test_it_is_the_slope_of_later_on_past_anomalies_drawn_towards_the_usual(lasting):
    anomaly = drawn(lasting=lasting)
    joint, own = slowly(anomaly)
    worth = SEASONS_WORTH * own.mean()
    kept, explained = persistence(anomaly)
    assert kept == pytest.approx((joint.sum() + USUAL_PERSISTENCE * worth) / (own.sum() + worth))
    assert explained == pytest.approx(min(kept**2 * own.mean(), MOST_EXPLAINED))


def test_each_season_can_be_left_out():
    anomaly = drawn(lasting=0.4)
    joint, own = slowly(anomaly)
    worth = SEASONS_WORTH * own.mean()  # of all seasons: it only sets how strong the usual is
    others = joint.sum() - joint, own.sum() - own
    kept, explained = persistence(anomaly, each_left_out=True)
    assert kept == pytest.approx((others[0] + USUAL_PERSISTENCE * worth) / (others[1] + worth))
    assert explained == pytest.approx(np.minimum(kept**2 * others[1] / 29, MOST_EXPLAINED))


def test_a_season_left_out_does_not_teach_its_own_slope():
    anomaly = np.vstack([drawn(20), np.full((1, 366), 3.0)])
    kept, _ = persistence(anomaly, each_left_out=True)
    assert kept[-1] < kept[:-1].min()


def test_without_weather_it_is_the_usual_one():
    assert persistence(np.zeros((5, 366))) == (pytest.approx(USUAL_PERSISTENCE), 0.0)


def test_few_seasons_lean_on_the_usual_and_many_on_their_own():
    far = [float(persistence(drawn(seasons, lasting=1.0))[0]) - USUAL_PERSISTENCE for seasons in (3, 30, 300)]
    assert 0 < far[0] < far[1] < far[2]


@pytest.mark.parametrize(("period_days", "kept"), [(70, 1.0), (140, 0.0)])
def test_it_lies_between_nothing_and_all(period_days, kept):
    """The days compared lie 70 apart: waves in phase come back stronger, waves of twice that turn round."""
    phase = np.random.default_rng(5).uniform(0, 2 * np.pi, (200, 1))
    share, explained = persistence(np.cos(2 * np.pi * np.arange(366) / period_days + phase))
    assert share == kept
    assert 0.0 <= explained <= MOST_EXPLAINED


def test_what_it_foretells_is_at_most_half_of_the_weather():
    lasting = np.where(np.arange(40) % 2, 3.0, -3.0)[:, np.newaxis] + drawn(40)
    assert persistence(lasting)[1] == MOST_EXPLAINED


def test_missing_days_count_as_usual_ones():
    anomaly = drawn(lasting=0.5)
    holes = np.where(np.random.default_rng(2).random(anomaly.shape) < 0.1, 0.0, anomaly)
    assert abs(persistence(holes)[0] - persistence(anomaly)[0]) < 0.1
