"""A curve for a garden whose offset is not known for sure."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from frostgate.climate.site import NODES, blur_site
from frostgate.seasons import SLOTS
from tests.gate_cases import make_curve, make_site

DAYS = np.arange(SLOTS)


def risk_at(threshold_c):
    """Give the risk by day where each degree moves the last frost by 4 days; sd 12 days."""
    return stats.norm.sf(DAYS, loc=265 + 4 * threshold_c, scale=12)


def known(threshold_c, **bounds):
    return make_site(make_curve(risk_at(threshold_c), threshold_c=threshold_c, **bounds))


def bounded(threshold_c):
    return known(threshold_c, low=risk_at(threshold_c) ** 2, high=np.sqrt(risk_at(threshold_c)))


@pytest.mark.parametrize("sd_c", [0.3, 1.0, 2.0])
def test_the_blurred_risk_is_the_mean_over_the_thresholds_that_may_be(sd_c):
    # a normal date whose mean is normal: both variances add
    expected = stats.norm.sf(DAYS, loc=265 + 4 * 0.5, scale=np.hypot(12, 4 * sd_c))
    assert blur_site(known, 0.5, sd_c).curve.risk == pytest.approx(expected, abs=2e-4)


def test_bounds_are_blurred_as_the_risk_is():
    site = blur_site(bounded, 0.5, 1.0)
    for day in (240, 262, 280):
        mean = integrate.quad(
            lambda off, day=day: stats.norm.pdf(off) * risk_at(0.5 + off)[day] ** 2, -8, 8, epsabs=1e-9
        )[0]
        assert site.curve.low[day] == pytest.approx(mean, abs=2e-4)
    assert (site.curve.low <= site.curve.risk + 1e-12).all()
    assert (site.curve.risk <= site.curve.high + 1e-12).all()


def test_without_bounds_at_every_threshold_there_are_none():
    def know(threshold_c):
        return bounded(threshold_c) if threshold_c > 0 else known(threshold_c)

    curve = blur_site(know, 0.5, 1.0).curve
    assert (curve.low, curve.high) == (None, None)
    assert blur_site(known, 0.5, 1.0).curve.low is None


def test_a_sure_offset_asks_for_one_curve_and_leaves_it():
    asked = []
    site = blur_site(lambda threshold_c: asked.append(threshold_c) or known(threshold_c), -1.0, 0.0)
    assert asked == [-1.0]
    assert site.curve.risk.tolist() == risk_at(-1.0).tolist()


def test_the_middle_threshold_names_the_site_and_is_asked_for_once():
    asked = []
    site = blur_site(lambda threshold_c: asked.append(threshold_c) or known(threshold_c), 1.0, 0.5)
    assert len(asked) == NODES == len({round(threshold_c, 9) for threshold_c in asked})
    assert np.mean(asked) == pytest.approx(1.0)
    assert (site.curve.threshold_c, site.station) == (1.0, known(1.0).station)


def test_a_blurred_curve_still_falls():
    def ragged(threshold_c):
        rng = np.random.default_rng(round(abs(threshold_c) * 1e6))
        return make_site(make_curve(np.clip(risk_at(threshold_c) + rng.normal(0, 1e-3, SLOTS), 0, 1)))

    risk = blur_site(ragged, 0.0, 1.0).curve.risk
    assert (np.diff(risk) <= 0).all()
    assert ((risk >= 0) & (risk <= 1)).all()


def test_more_doubt_means_later_dates_at_a_small_risk_and_earlier_ones_at_a_large():
    sure, unsure = (blur_site(known, 0.0, sd_c).curve for sd_c in (0.0, 2.0))
    assert unsure.day_at_risk(0.05) > sure.day_at_risk(0.05) + 2
    assert unsure.day_at_risk(0.95) < sure.day_at_risk(0.95) - 2
    assert unsure.day_at_risk(0.5) == pytest.approx(sure.day_at_risk(0.5), abs=0.1)
