"""The policy's numbers against a year of real forecasts for 166 cities, and against the archive's table."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from frostgate.gate.forecast_errors import error_spread, frost_chance
from frostgate.model.gate import Policy
from frostgate.units import WHOLE_F_STEP_C

LEADS = {"forecast_lo_current_AM": 0.5, "forecast_lo_prev_PM": 1.0, "forecast_lo_prev_AM": 1.5}  # days
DIGESTS, HOURLY = "US NWS city digests", "hourly forecasts, 6 cities"
POLICY = Policy()
WINTER_SCATTER_C = 5.0


@pytest.fixture(scope="module")
def nights(reference) -> pd.DataFrame:
    """Lay out one row per forecast: lead [d], forecast and observed minimum [whole °F]."""
    table = pd.read_csv(reference / "forecast" / "email_data_reorganized_one_year.csv.gz")
    long = table.melt("actual_lo_next_AM", list(LEADS), "column", "forecast_f").dropna()
    long = long.rename(columns={"actual_lo_next_AM": "observed_f"})
    return long.assign(lead_days=long["column"].map(LEADS))


@pytest.fixture(scope="module")
def archive(reference) -> pd.DataFrame:
    return pd.read_csv(reference / "forecast" / "error_by_lead_day.csv")


@pytest.fixture(scope="module")
def stated(nights) -> pd.DataFrame:
    """State the chance of an observed low of 32 °F or less for each forecast, as the gate states it."""

    def chance(lead_days: float, forecast_f: float) -> float:
        margin_c = (forecast_f - 32.0) / 1.8 - WHOLE_F_STEP_C / 2
        return frost_chance(margin_c, error_spread(lead_days, np.nan, POLICY), POLICY)

    alike = nights.groupby(["lead_days", "forecast_f"])["observed_f"]
    counted = alike.agg(count="size", frosts=lambda low: (low <= 32).sum()).reset_index()
    chances = [chance(*row) for row in counted[["lead_days", "forecast_f"]].itertuples(index=False)]
    return counted.assign(chance=chances)


@pytest.mark.parametrize("lead_days", LEADS.values())
def test_the_spread_to_a_day_and_a_half_is_that_of_the_forecasts(nights, lead_days):
    at_lead = nights[nights["lead_days"] == lead_days]
    error_c = (at_lead["forecast_f"] - at_lead["observed_f"]) / 1.8
    assert len(error_c) > 55_000
    assert error_c.std() == pytest.approx(error_spread(lead_days, np.nan, POLICY), abs=0.1)


def test_the_policys_table_beyond_two_days_is_the_archives_brought_to_its_scatter(archive):
    """From a winter scatter of 5 °C (from memory) to the policy's 4.5; the local part does not grow."""
    rows = archive[archive["source"].str.startswith(HOURLY) & archive["lead"].between(4, 8)]
    local, share = POLICY.error_local_c**2, (POLICY.reference_scatter_c / WINTER_SCATTER_C) ** 2
    brought = np.sqrt(local + (rows["sd_C"] ** 2 - local) * share)
    claimed = [sd_c for lead, sd_c in POLICY.error_sd_c if 4 <= lead <= 8]
    assert claimed == pytest.approx(brought.tolist(), abs=0.006)


def test_no_other_lead_is_claimed_but_the_last_that_continues_the_slope(archive):
    *known, (lead, sd_c) = POLICY.error_sd_c
    assert {lead for lead, _ in known} <= set(archive["lead"])
    (lead_7, sd_7), (lead_8, sd_8) = known[-2:]
    assert sd_c == pytest.approx(sd_8 + (lead - lead_8) * (sd_8 - sd_7) / (lead_8 - lead_7))


def test_the_tails_are_as_heavy_as_the_archives(archive):
    digests = archive[archive["source"].str.startswith(DIGESTS)]
    ratio = digests["sd_C"] / digests["mae_C"]
    share, factor = POLICY.wide_share, POLICY.wide_factor
    spread = np.sqrt(1 - share + share * factor**2)
    mixture = np.sqrt(np.pi / 2) * spread / (1 - share + share * factor)  # closed form of E|e| and E[e^2]
    assert ratio.between(1.29, 1.31).all()
    assert mixture == pytest.approx(ratio.mean(), abs=0.02)


def test_the_mean_error_of_the_archives_differs_in_sign_so_none_is_taken_off(archive):
    bias_c = archive.groupby(archive["source"].str.startswith(DIGESTS))["bias_fc_minus_obs_C"]
    assert bias_c.max()[True] < 0.0 < bias_c.min()[False]
    assert POLICY.error_bias_c == 0.0


def test_frosts_come_as_often_as_stated_over_all(stated):
    total = stated["count"].sum()
    said = (stated["chance"] * stated["count"]).sum() / total
    seen = stated["frosts"].sum() / total
    assert said == pytest.approx(seen, abs=0.015)


def test_frosts_come_about_as_often_as_stated_in_each_tenth(stated):
    tenth = pd.cut(stated["chance"], np.linspace(0, 1, 11), include_lowest=True)
    stated = stated.assign(said=stated["chance"] * stated["count"])
    bins = stated.groupby(tenth, observed=True)[["count", "said", "frosts"]].sum()
    said, seen = bins["said"] / bins["count"], bins["frosts"] / bins["count"]
    assert len(bins) == 10
    assert said.to_numpy() == pytest.approx(seen.to_numpy(), abs=0.09)  # these forecasts run 0.3 °C cold
    assert np.all(np.diff(seen) > 0)
