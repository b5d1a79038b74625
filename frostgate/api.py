"""The package as a library: the verbs of `import frostgate as fg`.

Thin by intent: words such as ``"32F"`` or ``"3 qt"`` are read and defaults filled in here; the rooms below
do the work. Nothing here reads a clock, the environment or the command line.
"""

from __future__ import annotations

import datetime as dt
import importlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal, TypedDict, Unpack

import numpy as np

from frostgate.climate import fits, frosts
from frostgate.climate.fits import POOLED, falling_days
from frostgate.climate.normals import LEVELS, THRESHOLDS_C, tabulate_lengths, tabulate_side
from frostgate.climate.quality import find_hemisphere, find_suspects
from frostgate.climate.site import know_site
from frostgate.errors import FrostgateError, InputError, TooFewSeasonsError, UnsafeMixError
from frostgate.garden.file import read_garden
from frostgate.garden.journal import Journal
from frostgate.gate.outlook import refuse_another_time
from frostgate.gate.verdict import Morning
from frostgate.gate.verdict import ask as ask_gate
from frostgate.model.curves import BasisOption, FrostCurve, SiteClimate
from frostgate.model.feedings import Analysis, Feeding, Mix, Product, Programme
from frostgate.model.garden import Entry, Garden, PotGroup, Stage
from frostgate.model.gate import MORNING, Forecast, ForecastLog, Outlook, Policy, Verdict
from frostgate.model.records import Completeness, DailyMinima, FrostDates, Side, Station
from frostgate.seasons import Floats
from frostgate.show.reasons import say_reasons
from frostgate.sources.forecast_log import close_forecasts, keep_forecast, read_log
from frostgate.sources.forecasts import read_forecast
from frostgate.sources.records import read_minima
from frostgate.units import (
    COLDEST_C,
    HOTTEST_C,
    Measured,
    TemperatureUnit,
    celsius,
    fahrenheit,
    parse_offset,
    parse_share,
    parse_temperature,
    parse_volume_l,
    say_temperature,
)

if TYPE_CHECKING:
    import pandas as pd

    from frostgate.proof.replay import Replay
    from frostgate.show.charts.curves import draw_curves, draw_frost_dates, draw_year
    from frostgate.show.charts.risks import draw_outlook

__all__ = [
    "Analysis", "DailyMinima", "Entry", "Feeding", "Forecast", "ForecastLog", "FrostCurve", "FrostDates",
    "FrostgateError", "Garden", "InputError", "Journal", "Mix", "Morning", "Outlook", "Policy",
    "PotGroup", "Product", "Programme", "Replay", "SiteClimate", "Station", "TooFewSeasonsError",
    "UnsafeMixError", "Verdict", "ask", "celsius", "close_forecasts", "draw_curves", "draw_frost_dates",
    "draw_outlook", "draw_year", "fahrenheit", "find_suspects", "first_frosts", "fit_curve",
    "keep_forecast", "last_frosts", "levels", "minima", "mix", "plan", "policy", "read_forecast",
    "read_garden", "read_log", "read_minima", "replay", "say_reasons", "score_fits", "site",
]  # fmt: skip

_SLOW = {  # to load: scipy's statistics, altair
    "Replay": "proof.replay",
    "draw_curves": "show.charts.curves",
    "draw_frost_dates": "show.charts.curves",
    "draw_year": "show.charts.curves",
    "draw_outlook": "show.charts.risks",
}

Hemisphere = Literal["north", "south"]
SIDES: tuple[Side, ...] = ("spring", "autumn")


def __getattr__(name: str) -> object:
    if name not in _SLOW:
        raise AttributeError(f"module 'frostgate.api' has no attribute {name!r}")
    return getattr(importlib.import_module(f"frostgate.{_SLOW[name]}"), name)


class Numbers(TypedDict, total=False):
    """The grower's numbers, as `policy` takes them."""

    risk: str | float
    damage: str
    offset: str
    offset_spread: str
    forecast_offset: str
    exposed_from: int
    max_age: float


def _share(given: str | float) -> float:
    return parse_share(given) if isinstance(given, str) else float(given)


def _celsius(written: str) -> float:
    return parse_temperature(str(written))[0]  # degrees alone tell no unit: they are refused


def _difference_c(written: str) -> float:
    return parse_offset(str(written))[0]


_FIELDS: dict[str, tuple[str, Callable[[Any], float]]] = {  # of a `Policy`, and what reads each
    "risk": ("risk_tolerance", _share),
    "damage": ("damage_temp_c", _celsius),
    "offset": ("offset_c", _difference_c),
    "offset_spread": ("offset_sd_c", _difference_c),
    "forecast_offset": ("forecast_offset_c", _difference_c),
    "exposed_from": ("first_exposed_days", lambda days: int(days) if isinstance(days, str) else days),
    "max_age": ("max_age_hours", float),
}


def policy(base: Policy | None = None, **numbers: Unpack[Numbers]) -> Policy:
    """Write the grower's numbers for the gate; `Policy` has the others, and all their sources.

    Parameters
    ----------
    base : Policy, optional
        The numbers that are not stated here; by default those of ``Policy()``.
    risk : str or float
        The chance of a damaging frost after feeding that one can live with, such as ``"10%"`` or 0.1.
    damage : str
        The minimum in the garden that does damage, with its unit: ``"32F"`` or ``"0C"``.
    offset : str
        Garden minimum less station minimum, with its unit: ``"-2F"`` or ``"-1C"``.
    offset_spread : str
        How sure that is on a single night: its standard deviation, with its unit.
    forecast_offset : str
        Garden minimum less forecast minimum, where it is another, with its unit.
    exposed_from : int
        Days from feeding to the first night that counts [d].
    max_age : float
        An older forecast is not trusted [h].

    Raises
    ------
    InputError
        Where a number cannot be read or cannot be meant, or a temperature lacks its unit.

    Examples
    --------
    >>> import frostgate as fg
    >>> hollow = fg.policy(damage="32F", offset="-2F", risk="5%")
    >>> round(hollow.station_threshold_c, 3), hollow.risk_tolerance
    (1.111, 0.05)
    """
    if unknown := numbers.keys() - _FIELDS.keys():
        raise TypeError(f"no such number: {', '.join(sorted(unknown))}; the numbers are {', '.join(_FIELDS)}")
    changes: dict[str, Any] = {}
    for name, given in numbers.items():
        field, read = _FIELDS[name]
        try:
            changes[field] = read(given)
        except InputError:
            raise
        except (TypeError, ValueError):
            remedy = "Leave it out where it is not to be changed."
            raise InputError(f"no number for {name}", value=given, remedy=remedy) from None
    return replace(base or Policy(), **changes)


def minima(
    series: pd.Series[float], *, unit: Literal["C", "F", "tenths-C"] = "C", station: str = "series"
) -> DailyMinima:
    """Make a record of daily minima from a pandas Series.

    Parameters
    ----------
    series : pandas.Series
        Minima by day: a DatetimeIndex without zone, each day once, in any order; NaN where missing.
    unit : {"C", "F", "tenths-C"}
        Of the values [°C], [°F] or [0.1 °C].
    station : str
        A name for the place.

    Returns
    -------
    DailyMinima
        In [°C], rounded to the tenths in which records are stored.

    Raises
    ------
    InputError
        Where the index is not one of days, a day stands twice, or no place on earth has such a minimum.

    Examples
    --------
    >>> import frostgate as fg
    >>> import pandas as pd
    >>> days = pd.date_range("2026-04-01", periods=3)
    >>> fg.minima(pd.Series([28, 32, float("nan")], index=days), unit="F").to_series().tolist()
    [-2.2, 0.0, nan]
    """
    import pandas as pd

    given: Any = series
    if not isinstance(given, pd.Series):
        remedy = "Give a pandas Series with the days as its index."
        raise InputError("no series of minima", value=type(given).__name__, remedy=remedy)
    index = series.index
    if not isinstance(index, pd.DatetimeIndex) or index.tz is not None or index.hasnans:
        raise InputError(
            "minima need an index of days without a time zone",
            value=type(index).__name__,
            remedy="Make one with pandas.to_datetime; tz_localize(None) takes a zone off.",
        )
    try:
        values: Floats = np.asarray(series.to_numpy(dtype=float, na_value=np.nan), dtype=np.float64)
    except (TypeError, ValueError) as fault:
        raise InputError("the minima are no numbers", value=fault) from None
    tmin_c = {"C": values, "F": celsius(values), "tenths-C": values / 10.0}.get(unit)
    if tmin_c is None:
        raise InputError("no such unit", value=unit, remedy="Write C, F or tenths-C.")
    dates = index.to_numpy().astype("datetime64[D]")
    absurd = ~np.isnan(values) & ~((tmin_c >= COLDEST_C) & (tmin_c <= HOTTEST_C))
    say_unit = 'State the unit, such as unit="F", and write NaN where a minimum is missing.'
    resample = 'Take each day\'s lowest first, for example series.resample("D").min().'
    for wrong, what, remedy in (
        (index != index.normalize(), "a record has one minimum a day, without a time", resample),
        (index.duplicated(), "a day stands twice", resample),
        (absurd, f"no place on earth has such a minimum, in {unit}", say_unit),
    ):
        if wrong.any():
            first = int(np.argmax(wrong))
            raise InputError(what, value=f"{values[first]:g} on {dates[first]}", remedy=remedy)
    order = np.argsort(dates)
    return DailyMinima(station=Station(id=station), dates=dates[order], tmin_c=tmin_c[order])


def last_frosts(
    minima: DailyMinima,
    threshold: str = "32F",
    *,
    hemisphere: Hemisphere | None = None,
    completeness: Completeness = "chance",
) -> FrostDates:
    """Find the last frost of each spring.

    A season runs from August to July (in the south, February to January), as in the published freeze normals.

    Parameters
    ----------
    minima : DailyMinima
        A station's record.
    threshold : str
        A frost is a minimum at or below this, with its unit: ``"32F"`` or ``"0C"``.
    hemisphere : {"north", "south"}, optional
        By default the station's latitude or its colder months tell.
    completeness : {"chance", "strict"}
        When missing days make a season unknown: where the chance that they hide a frost is above 5 %, or
        always.

    Returns
    -------
    FrostDates
        Each spring's date, "none" or "unknown".

    Examples
    --------
    >>> import frostgate as fg
    >>> record = fg.read_minima("data_samples/oskelmere.dly")
    >>> frosts = fg.last_frosts(record)
    >>> frosts
    <FrostDates of spring at 0.0 °C, 1966 to 2026: 56 with a frost, 0 without, 5 unknown>
    >>> str(frosts.to_dataframe().loc[2025, "date"].date())
    '2025-04-10'
    """
    start, threshold_c = find_hemisphere(minima, hemisphere), _celsius(threshold)
    return frosts.last_frosts(minima, threshold_c, start, completeness=completeness)


def first_frosts(
    minima: DailyMinima,
    threshold: str = "32F",
    *,
    hemisphere: Hemisphere | None = None,
    completeness: Completeness = "chance",
) -> FrostDates:
    """Find the first frost of each autumn; parameters as in `last_frosts`.

    Examples
    --------
    >>> import frostgate as fg
    >>> fg.first_frosts(fg.read_minima("data_samples/oskelmere.dly"), "28F").date(0)
    datetime.date(1965, 10, 22)
    """
    start, threshold_c = find_hemisphere(minima, hemisphere), _celsius(threshold)
    return frosts.first_frosts(minima, threshold_c, start, completeness=completeness)


def fit_curve(frosts: FrostDates, kind: str = POOLED, *, confidence: float | None = None) -> FrostCurve:
    """Fit a curve of risk by date to the frost dates of a place.

    Parameters
    ----------
    frosts : FrostDates
        Last spring or first autumn frosts.
    kind : str
        ``empirical``, ``normal``, ``student``, ``skewed``, ``smooth``, ``pooled`` (the mean of the last
        three) or ``best``, by the score of seasons left out one by one. With fewer than five frosts there is
        no shape to fit, and the curve is empirical.
    confidence : float, optional
        Puts bounds on the curve: this share of 500 refits to resampled seasons lies between them.

    Returns
    -------
    FrostCurve
        The risk of a frost after (spring) or before (autumn) each day of the season.

    Raises
    ------
    TooFewSeasonsError
        With fewer than 10 known seasons.
    InputError
        Where there is no such fit, or the confidence does not lie between 0 and 1.

    Examples
    --------
    >>> import frostgate as fg
    >>> frosts = fg.last_frosts(fg.read_minima("data_samples/oskelmere.dly"))
    >>> spring = fg.fit_curve(frosts, confidence=0.8)
    >>> spring.date_at(0.5), spring.date_at(0.1), round(spring.risk_after("05-10"), 3)
    ('04-24', '05-13', 0.134)
    """
    curve = fits.fit_curve(frosts, kind)
    return curve if confidence is None else fits.put_bounds(curve, frosts, confidence=confidence)


def score_fits(frosts: FrostDates) -> pd.Series[float]:
    """Score every kind of curve on the seasons of a place, each left out in turn.

    Parameters
    ----------
    frosts : FrostDates
        Last spring or first autumn frosts.

    Returns
    -------
    pandas.Series
        Mean continuous ranked probability score [d] by kind, smaller is better, best first. Gneiting &
        Raftery (2007), doi:10.1198/016214506000001437.

    Examples
    --------
    >>> import frostgate as fg
    >>> scores = fg.score_fits(fg.last_frosts(fg.read_minima("data_samples/oskelmere.dly")))
    >>> scores.idxmin() == scores.index[0], bool(scores["empirical"] > scores["pooled"])
    (True, True)
    """
    import pandas as pd

    scores = fits.score_fits(falling_days(frosts))
    return pd.Series(scores, name="crps_days").rename_axis("kind")


def levels(
    minima: DailyMinima,
    thresholds: Sequence[str] | None = None,
    *,
    hemisphere: Hemisphere | None = None,
    kind: str = POOLED,
    basis: BasisOption = "best",
    unit: TemperatureUnit = "C",
) -> pd.DataFrame:
    """Return the table of the published freeze normals: dates by risk, at several thresholds.

    Parameters
    ----------
    minima : DailyMinima
        A station's record, as it is: suspects are not left out here.
    thresholds : sequence of str, optional
        With their units, such as ``"32F"``; by default 36 to 16 °F in steps of 4.
    hemisphere, kind
        See `last_frosts` and `fit_curve`.
    basis : {"best", "all", "recent", "trend"}
        Years of the curves: all, the recent 30, all along their trend, or what foretold past seasons best.
    unit : {"C", "F"}
        Of the thresholds in the index.

    Returns
    -------
    pandas.DataFrame
        By part and threshold, a column for each level of risk from 0.1 to 0.9: in ``spring`` the date (MM-DD)
        after which a frost still comes in that share of years, in ``autumn`` the date before which one has
        come, and under ``days between`` the length [d] that the season reaches in that share of years. The
        curves of several thresholds never cross.

    Raises
    ------
    TooFewSeasonsError
        With fewer than 10 known seasons at every threshold.

    Examples
    --------
    >>> import frostgate as fg
    >>> table = fg.levels(fg.read_minima("data_samples/oskelmere.dly"), ["32F", "28F"], unit="F")
    >>> table.loc[("spring", "32 °F"), [0.1, 0.5, 0.9]].tolist()
    ['05-13', '04-24', '04-05']
    """
    import pandas as pd

    start = find_hemisphere(minima, hemisphere)
    degrees = THRESHOLDS_C if thresholds is None else [_celsius(threshold) for threshold in thresholds]
    if not degrees:
        raise InputError("no threshold is named", remedy='Name one, such as "32F".')
    spring, autumn = (tabulate_side(minima, s, degrees, start, kind=kind, basis=basis) for s in SIDES)
    rows: dict[tuple[str, str], list[Any]] = {}
    for side in (spring, autumn):
        for curve in side.curves:
            rows[side.side, say_temperature(curve.threshold_c, unit)] = [curve.date_at(p) for p in LEVELS]
    for length in tabulate_lengths(spring.used, autumn.used, kind):
        rows.setdefault(("days between", say_temperature(length.threshold_c, unit)), []).append(length.days)
    index = pd.MultiIndex.from_tuples(rows, names=["part", "threshold"])
    return pd.DataFrame(list(rows.values()), index=index, columns=pd.Index(LEVELS, name="risk"))


def site(
    minima: DailyMinima,
    policy: Policy | None = None,
    *,
    hemisphere: Hemisphere | None = None,
    kind: str = POOLED,
    basis: BasisOption = "best",
    completeness: Completeness = "chance",
    keep_suspects: bool = False,
    **numbers: Unpack[Numbers],
) -> SiteClimate:
    """Learn from a station's record the frosts and the weather that a garden near it must reckon with.

    Plain errors of the record are left out first. The curve is that of the station's minimum that damages the
    garden, averaged over the offset's spread where one is stated.

    Parameters
    ----------
    minima : DailyMinima
        A station's record.
    policy : Policy, optional
        The grower's numbers; single ones can be stated by name instead, or beside it.
    hemisphere, completeness, kind, basis
        See `last_frosts`, `fit_curve` and `levels`.
    keep_suspects : bool
        Use the minima that look like plain errors.
    **numbers
        ``damage="32F"``, ``offset="-2F"``, ``risk="10%"``, ...: see `frostgate.policy`.

    Returns
    -------
    SiteClimate
        With its ``curve``, its ``autumn`` curve and the ``policy`` it was made for.

    Raises
    ------
    TooFewSeasonsError
        With fewer than 10 known springs.
    InputError
        Where a number cannot be read or meant, or there is no such fit or choice of years.

    Examples
    --------
    >>> import frostgate as fg
    >>> hollow = fg.site(fg.read_minima("data_samples/oskelmere.dly"), damage="32F", offset="-2F")
    >>> round(hollow.curve.threshold_c, 3), hollow.curve.date_at(0.1)  # 34 °F at the station
    (1.111, '05-13')
    """
    agreed = _policy(policy, numbers)
    climate = know_site(
        minima,
        agreed.station_threshold_c,
        find_hemisphere(minima, hemisphere),
        threshold_sd_c=agreed.offset_sd_c,
        autumn=True,
        kind=kind,
        completeness=completeness,
        keep_suspects=keep_suspects,
        years=basis,
    )
    return replace(climate, policy=agreed)


def ask(
    site: SiteClimate,
    forecast: Forecast | None = None,
    *,
    now: str | dt.date,
    policy: Policy | None = None,
    climate_only: bool = False,
    **numbers: Unpack[Numbers],
) -> Morning:
    """Ask whether it is safe to feed.

    Parameters
    ----------
    site : SiteClimate
        The station's past, as `site` makes it.
    forecast : Forecast, optional
        The coming nights. Without one the answer is unknown, unless it is asked of the climate alone.
    now : str, datetime.datetime or datetime.date
        The moment of the question, local time of the garden without zone, such as ``"2026-04-22 06:00"``; a
        day alone means its morning.
    policy : Policy, optional
        Other numbers than those the site was made with.
    climate_only : bool
        Answer from the curve alone.
    **numbers
        Single other numbers, such as ``risk="5%"``: see `frostgate.policy`.

    Returns
    -------
    Morning
        Its ``verdict`` is ``open``, ``shut`` or ``unknown``; its ``outlook`` has the risk of every date.
        `say_reasons` puts the verdict's reasons into words.

    Raises
    ------
    InputError
        Where ``now`` is no local time, the forecast is for another time, or the numbers want another station
        minimum, or another certainty of it, than the site's curve was made for.

    Examples
    --------
    >>> import frostgate as fg
    >>> hollow = fg.site(fg.read_minima("data_samples/oskelmere.dly"), damage="32F", offset="-2F")
    >>> forecast = fg.read_forecast("data_samples/forecast_frost.json")
    >>> answer = fg.ask(hollow, forecast, now="2026-04-22 06:00")
    >>> answer.verdict.state, answer.verdict.earliest_date
    ('shut', datetime.date(2026, 5, 13))
    """
    for what, given, kind, remedy in (
        ("no site", site, SiteClimate, "Make one with frostgate.site(minima, ...)."),
        ("no forecast", forecast, Forecast | None, "Read one with frostgate.read_forecast(FILE)."),
    ):
        if not isinstance(given, kind):
            raise InputError(what, value=type(given).__name__, remedy=remedy)
    agreed = _policy(policy or site.policy, numbers)
    _refuse_another_curve(site, agreed)
    moment = _moment(now)
    if forecast is not None and not climate_only:
        refuse_another_time(forecast, moment.date())
    return ask_gate(site, forecast, agreed, moment, climate_only=climate_only)


def replay(
    minima: DailyMinima,
    policy: Policy | None = None,
    *,
    seed: int = 1,
    years: tuple[int, int] | None = None,
    hemisphere: Hemisphere | None = None,
    tolerances: Sequence[float] | None = None,
    **numbers: Unpack[Numbers],
) -> Replay:
    """Replay every past spring of a record, to see how often the risk that the gate stated came true.

    Each spring is judged by the others, morning by morning, with drawn forecasts whose errors are those of
    the policy.

    Parameters
    ----------
    minima, policy, hemisphere, **numbers
        See `site`.
    seed : int
        Of the drawn forecasts.
    years : (int, int), optional
        First and last spring, both included; by default all.
    tolerances : sequence of float, optional
        Limits of risk at which the gate opens; by default 2, 5, 10, 20, 30 and 50 %.

    Returns
    -------
    Replay
        Its ``openings``, one for each limit, hold the risk stated and whether a frost came.

    Raises
    ------
    TooFewSeasonsError
        With fewer than 11 known springs.

    Examples
    --------
    >>> import frostgate as fg
    >>> past = fg.replay(fg.read_minima("data_samples/oskelmere.dly"), years=(1996, 2025), tolerances=[0.1])
    >>> (ten,) = past.openings
    >>> ten.springs, round(ten.stated_mean, 2), round(ten.realised, 2)
    (28, 0.08, 0.07)
    """
    from frostgate.proof.replay import TOLERANCES, replay_springs  # loads scipy
    from frostgate.proof.springs import lay_out_springs

    agreed = _policy(policy, numbers)
    start = find_hemisphere(minima, hemisphere)
    springs = lay_out_springs(minima, agreed.station_threshold_c, start, years=years)
    return replay_springs(
        springs, agreed, seed=seed, tolerances=TOLERANCES if tolerances is None else tolerances
    )


def mix(
    *products: str,
    garden: Garden | None = None,
    group: str | None = None,
    phase: str | None = None,
    pots: int | None = None,
    per_pot: str | None = None,
    bucket: str | None = None,
    strength: str | float | None = None,
    n_ppm: float | None = None,
    stage: Stage | None = None,
    scoops: Sequence[str] = (),
) -> Mix:
    """Work out what to mix, or to lay on the soil, for a group of pots.

    Parameters
    ----------
    *products : str
        Labels, such as ``"First feed 17-5-9 soluble 2 tsp/gal"``, or names of the garden's products.
    garden : Garden, optional
        Whose groups, products, bucket and scoops these are.
    group : str, optional
        Which of the garden's groups is fed.
    phase : str, optional
        What its season feeds in this phase, in place of products.
    pots, per_pot, bucket : int, str, str, optional
        How many pots, what each gets (``"3 qt"``) and what the bucket holds (``"3.5 gal"``).
    strength : str or float, optional
        Share of the label's rate, such as ``"50%"`` or 0.5.
    n_ppm : float, optional
        Nitrogen wanted in the solution [mg/L], in place of a strength.
    stage : {"established", "newly potted", "cutting", "in the ground"}, optional
        Young roots get at most half of the label's rate.
    scoops : sequence of str
        Measures at hand, such as ``"1 tsp"``.

    Returns
    -------
    Mix
        Buckets with their doses, what each element comes to [mg/L], and what to mind.

    Raises
    ------
    UnsafeMixError
        Above what a label allows, or too salty for roots.
    InputError
        Where something is missing, cannot be read, or several groups suit and none is named.

    Examples
    --------
    >>> import frostgate as fg
    >>> feed = fg.mix("First feed 17-5-9 soluble 2 tsp/gal", pots=10, per_pot="3 qt", bucket="3.5 gal")
    >>> [(bucket.pots, bucket.doses[0].spoons) for bucket in feed.buckets]
    [(4, '2 tbsp'), (4, '2 tbsp'), (2, '1 tbsp')]
    """
    from frostgate.service.mix import MixOptions, mix_groups

    options = MixOptions(
        group=group,
        phase=phase,
        products=products,
        strength=None if strength is None else _share(strength),
        n_ppm=n_ppm,
        pots=pots,
        per_pot=None if per_pot is None else _volume(per_pot),
        bucket=None if bucket is None else _volume(bucket),
        scoops=tuple(_volume(scoop) for scoop in scoops),
        stage=stage,
    )
    made = mix_groups(options, garden)
    if len(made) > 1:
        names = ", ".join(one.group.name for one in made if one.group)
        raise InputError("several groups of the garden suit this", value=names, remedy="Name one: group=...")
    return made[0].mix


def plan(garden: Garden, answer: Morning) -> Programme:
    """Plan the season's feedings of a garden by a morning's answer.

    Nothing is dated before the gate or after the stop, and nothing is due unless the answer is open. What was
    done already is not known here: the garden's journal is read by the command ``frostgate plan`` alone.

    Parameters
    ----------
    garden : Garden
        Groups, products, phases and rules, as `read_garden` reads them.
    answer : Morning
        What `ask` said.

    Returns
    -------
    Programme
        The feedings in order of date, undated ones last, with what shaped them.

    Raises
    ------
    InputError
        Where a phase feeds a product that the garden does not list.

    Examples
    --------
    >>> import frostgate as fg
    >>> garden = fg.read_garden("data_samples/garden.toml")
    >>> site = fg.site(fg.read_minima("data_samples/oskelmere.dly"), damage="32F", offset="-2F")
    >>> forecast = fg.read_forecast("data_samples/forecast_frost.json")
    >>> programme = fg.plan(garden, fg.ask(site, forecast, now="2026-04-22 06:00"))
    >>> str(programme.gate), str(programme.feedings[0].date)
    ('2026-05-13', '2026-05-13')
    """
    from frostgate.service.season import Season, placed, planned, season_facts

    facts = season_facts(garden, None, answer, answer.now.date())
    located = placed(garden, answer.site)
    return planned(Season(garden=located, now=answer.now, morning=answer, facts=facts))[0]


def _policy(base: Policy | None, numbers: Numbers) -> Policy:
    return policy(base, **numbers)


def _refuse_another_curve(site: SiteClimate, wanted: Policy) -> None:
    made_for = site.policy
    if made_for is None:
        raise InputError(
            "the site does not tell for which numbers its curve was made",
            remedy="Make it with frostgate.site(minima, ...).",
        )
    for what, ours, theirs in (
        ("station minimum", made_for.station_threshold_c, wanted.station_threshold_c),
        ("spread of the offset", made_for.offset_sd_c, wanted.offset_sd_c),
    ):
        if abs(ours - theirs) > 1e-9:
            raise InputError(
                f"the site's curve is for another {what}",
                value=f"{ours:.2f} °C, not {theirs:.2f} °C",
                remedy="Make the site anew with these numbers.",
            )


def _volume(written: str) -> Measured:
    return Measured(parse_volume_l(str(written)), written)  # a number alone tells no unit: it is refused


def _moment(now: str | dt.date) -> dt.datetime:
    """Read a moment; a day alone means its morning, as the command's --on does."""
    try:
        if isinstance(now, str):
            now = dt.date.fromisoformat(now) if len(now.strip()) <= 10 else dt.datetime.fromisoformat(now)
        moment = now if isinstance(now, dt.datetime) else dt.datetime.combine(now, MORNING)
    except (TypeError, ValueError):
        raise InputError("not a moment", value=now, remedy="Write it as 2026-04-22 06:00.") from None
    if moment.tzinfo is not None:
        raise InputError(
            "not a local time without zone", value=now, remedy="Write it as the garden's clock shows it."
        )
    return moment
