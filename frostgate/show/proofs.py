"""What the past says: springs replayed, limits side by side, how a forecast errs; as text and JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from frostgate.model.curves import FrostCurve
from frostgate.model.gate import LARGEST_TOLERANCE, Policy
from frostgate.model.records import Station
from frostgate.proof.error_fits import FEWEST_MORNINGS, FittedErrors, Trial
from frostgate.proof.limits import Advice, CostLoss, Limit, Stakes, Weighed, chance_in_years, cheapest
from frostgate.proof.reliability import consistency_band, reliability
from frostgate.proof.replay import Openings, Replay, WrongSpring, wrong_springs
from frostgate.seasons import SeasonStart, month_day_or_none
from frostgate.show.answers import DIGITS, Plain, curve_facts, named, plain, rows_of
from frostgate.show.say import Part, bold, counted, grid, or_dash, say_month_day, say_side, wrapped
from frostgate.units import TemperatureUnit, say_offset, say_share, say_temperature

CAME = ("stated_mean", "realised", "realised_low=interval.0", "realised_high=interval.1")
REPLAYED_YEARS = ("first_year=springs.years.0", "last_year=springs.years.-1")
SCORES = ("brier", "rel", "res", "unc", "wbv", "wbc", "skill")
REPLAYED = DIGITS | {
    **dict.fromkeys(("opening_sd_days", "days_gained", "days_gained_perfect"), 2),
    **dict.fromkeys(("tmin_c", "garden_c"), 1),
    **dict.fromkeys(SCORES, 5),
}
MARK = "*"  # beside the limit that is recommended
WEIGHED = DIGITS | {
    **dict.fromkeys(("days_waited", "cost", "cost_by_stated", "days_gained", "days_worth"), 2),
    **dict.fromkeys(("cost_per_day", "loss")),
}
SPREAD = ("mean_bias_c", "wide_share", "wide_factor", "correlation", "correlated_pairs")
CRPS = ("crps_c", "raw_crps_c")
TRIED = ("fitted_mornings", "tried_mornings", "tried_nights", *CRPS, "brier", "raw_brier", "usual_brier")


def replay_answer(replay: Replay, station: Station, seed: int, policy: Policy) -> Plain:
    """Return a replay under the names that the JSON answer uses."""
    answer = {
        **named(station, "station=id", "name"),
        **named(policy, "damage_temp_c", "offset_c"),
        **named(replay, *REPLAYED_YEARS, "horizon"),
        "seed": seed,
        "springs_with_kept_forecasts": replay.kept.sum(),
        "tolerances": [
            _opened(replay, opened, policy)
            | named(opened, "days_gained", "days_gained_perfect")
            | {"reliability": _scores(opened)}
            for opened in replay.openings
        ],
        "habit": _opened(replay, replay.habit, policy),
    }
    return dict(plain(answer, REPLAYED))


def _opened(replay: Replay, opened: Openings, policy: Policy) -> Plain:
    wrong = wrong_springs(replay.springs, opened)
    return {
        **named(opened, "risk", *CAME, "springs"),
        "opening_median": month_day_or_none(opened.median_day, replay.springs.start),
        "opening_sd_days": np.std(opened.day[opened.opened]) if opened.springs else None,
        "wrong_years": [spring.year for spring in wrong],
        "wrong": [
            named(spring, "year", "opened", "stated", "frost", "tmin_c")
            | {"garden_c": spring.tmin_c + policy.offset_c}
            | named(spring, "first_frost", "frosts_after")
            for spring in wrong
        ],
    }


def _scores(opened: Openings) -> Plain:
    """Return the Brier score of the risks stated at opening, and its parts; None each where none was."""
    at = opened.opened
    return named(reliability(opened.stated[at], opened.wrong[at]) if at.any() else None, *SCORES)


def replay_parts(
    replay: Replay, station: Station, seed: int, policy: Policy, unit: TemperatureUnit
) -> Iterator[Part]:
    """Write a replay: a row for each tolerance, the trade's habit, and the springs that went wrong."""
    years, habit, kept = replay.springs.years, replay.habit, int(replay.kept.sum())
    rows = [
        {
            "your\nlimit": say_share(opened.risk),
            "stated": say_share(opened.stated_mean) if opened.springs else "-",
            **_opening_cells(opened, replay.springs.start),
            "at\nbest": or_dash(opened.days_gained_perfect, "+.1f"),
        }
        for opened in replay.openings
    ]
    drawn = f"every morning a drawn forecast of {replay.horizon} nights (seed {seed})"
    yield bold(station)
    yield f"{years.size} springs {years[0]}-{years[-1]}, each judged by the others; {drawn}"
    yield from ("", grid(rows), "")
    yield "stated: mean risk on the morning the gate opened; came true: springs with a damaging frost after."
    yield "days gained: before the calendar date of the same limit; at best: with a forecast without errors."
    fate = f"went wrong in {say_share(habit.realised)} of these springs ({_say_interval(habit)})."
    yield from wrapped(
        "The trade's habit (past the 50 % date, no frost in the two-week forecast: feed) "
        + (fate if habit.springs else "never fed in these springs.")
    )
    if kept:
        yield f"In {counted(kept, 'spring')} the forecasts are those that were kept."
    others = "The others are drawn" if kept else "Forecasts are drawn"
    yield f"{others}, not archived: their errors have the policy's spread, tails and correlation."
    yield ""
    for opened in (one for one in replay.openings if one.risk == policy.risk_tolerance):
        limit, wrong = say_share(opened.risk), wrong_springs(replay.springs, opened)
        if wrong:
            yield bold(f"The springs that went wrong at a limit of {limit}, and what came")
            yield grid([_wrong_cells(spring, policy, unit) for spring in wrong])
        else:
            fate = "none of these springs went wrong" if opened.springs else "the gate never opened"
            yield f"At a limit of {limit} {fate}."


def _opening_cells(opened: Openings, start: SeasonStart) -> dict[str, str]:
    """Say when a gate opened, the days gained, and the share that came true with its bounds."""
    opens = month_day_or_none(opened.median_day, start)
    return {
        "\nopens": "never" if opens is None else say_month_day(opens),
        "days\ngained": or_dash(opened.days_gained, "+.1f"),
        "came\ntrue": "-" if opens is None else say_share(opened.realised),
        "95 %\ninterval": "-" if opens is None else _say_interval(opened),
    }


def _say_interval(opened: Openings) -> str:
    low, high = opened.interval
    return f"{low:.0%} to {high:.0%}"


def _wrong_cells(spring: WrongSpring, policy: Policy, unit: TemperatureUnit) -> dict[str, str]:
    dates = (spring.opened, spring.first_frost, spring.frost)
    opened, first_frost, coldest = (say_month_day(f"{date:%m-%d}") for date in dates)
    return {
        "spring": f"{spring.year}",
        "opened": opened,
        "stated": say_share(spring.stated),
        "first frost": first_frost,
        "frosts": f"{spring.frosts_after}",
        "coldest": coldest,
        "station": say_temperature(spring.tmin_c, unit),
        "garden": say_temperature(spring.tmin_c + policy.offset_c, unit),
    }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """All that is laid before a grower who chooses a limit of risk."""

    station: Station
    policy: Policy
    curve: FrostCurve
    limits: tuple[Limit, ...]
    replay: Replay | None
    replay_missing: str | None
    years_ahead: int
    seed: int
    unit: TemperatureUnit
    stakes: Stakes | None
    advice: Advice | None

    def weighed(self, limit: Limit, *, by_stated: bool = False) -> Weighed | None:
        """Return what a limit costs, by what came true or by the risk stated; None where it has no cost."""
        rows = () if self.advice is None else self.advice.stated if by_stated else self.advice.weighed
        return next((row for row in rows if row.limit == limit.risk), None)


def risk_answer(choice: Choice) -> Plain:
    """Return the limits under the names that the JSON answer uses."""
    replay = choice.replay
    answer = {
        **named(choice, "station=station.id", "station.name", "policy.damage_temp_c", "policy.offset_c"),
        "years_ahead": choice.years_ahead,
        "curve": curve_facts(choice.curve),
        "limits": [_limit_answer(choice, limit) for limit in choice.limits],
        "replay": replay
        and named(replay, *REPLAYED_YEARS, "springs=springs.years.size", "horizon") | {"seed": choice.seed},
        "replay_missing": choice.replay_missing,
        "costs": choice.stakes and _cost_answer(choice, choice.stakes),
    }
    return dict(plain(answer, WEIGHED))


def _limit_answer(choice: Choice, limit: Limit) -> Plain:
    opened, start = limit.opened, choice.curve.start
    return {
        "risk": limit.risk,
        "curve_date": month_day_or_none(limit.curve_day, start),
        "within": limit.within,
        "bad_in_ten": 10 * limit.risk,
        "chance_in_years": chance_in_years(limit.risk, choice.years_ahead),
        "replay": opened
        and {"opening_median": month_day_or_none(opened.median_day, start)}
        | named(opened, "days_gained", *CAME),
        **named(choice.weighed(limit), "days_waited", "cost"),
        **named(choice.weighed(limit, by_stated=True), "cost_by_stated=cost"),
    }


def _cost_answer(choice: Choice, stakes: Stakes) -> Plain:
    advice = choice.advice
    tie = advice and advice.feed_or_wait
    return {
        **named(stakes, "cost_per_day", "loss", "days_worth"),
        "recommended": advice and advice.recommended,
        "as_good": [row.limit for row in advice.weighed if row.as_good] if advice else [],
        "feed_or_wait": tie and named(tie, "days_gained", "ratio", "tolerance"),
        "reasons": say_costs(choice, stakes),
    }


def choice_parts(choice: Choice) -> Iterator[Part]:
    """Write a row for each limit, how to read it, and the limit that costs least."""
    damage, offset_c = say_temperature(choice.policy.damage_temp_c, choice.unit), choice.policy.offset_c
    garden = f", {say_side(offset_c, 'the station', choice.unit)}" if offset_c else ""
    curve = choice.curve
    springs = f"{curve.seasons_used} springs, {curve.first_year} to {curve.last_year}"
    yield bold(choice.station)
    yield f"Damage at {damage} or less in the garden{garden}; last frosts of {springs}"
    yield from ("", grid([dict(_limit_cells(choice, limit)) for limit in choice.limits], gap=1), "")
    yield from say_reading(choice)
    if choice.stakes is not None:
        yield from ("", *say_costs(choice, choice.stakes))


def _limit_cells(choice: Choice, limit: Limit) -> Iterator[tuple[str, str]]:
    """Write what is known of a limit, each cell behind the head of its column."""
    start = choice.curve.start
    date, undated = month_day_or_none(limit.curve_day, start), limit.within.replace("all season", "any day")
    yield "your\nlimit", say_share(limit.risk)
    yield "by the\ncurve", undated if date is None else say_month_day(date)
    yield "bad\nin 10", f"{10 * limit.risk:.2g}"
    yield f"in {choice.years_ahead}\nyears", say_share(chance_in_years(limit.risk, choice.years_ahead))
    if limit.opened is not None:
        yield from _opening_cells(limit.opened, start).items()
    if choice.advice is not None:
        came, stated = choice.weighed(limit), choice.weighed(limit, by_stated=True)
        yield "days\nwaited", "-" if came is None else f"{came.days_waited:.1f}"
        yield "\ncost", "-" if came is None else f"{came.cost:,.0f}"
        if choice.replay is not None:
            yield "as\nstated", "-" if stated is None else f"{stated.cost:,.0f}"
        yield "", MARK if limit.risk == choice.advice.recommended else ""


def say_reading(choice: Choice) -> Iterator[str]:
    """Tell how to read the table."""
    yield "your limit: the chance of a damaging frost after the first feeding that you can live with;"
    yield "by the curve: the first day within it, without any forecast; bad in 10: bad springs to expect in"
    yield f"ten; in {choice.years_ahead} years: chance of at least one bad spring in that time."
    within = {limit.within for limit in choice.limits}
    if "all season" in within:
        yield "any day: so few springs have such a frost that no day of the season exceeds this limit."
    if "never" in within:
        yield "never: such frosts come all year round here, and no day is within this limit."
    if choice.replay is None:
        yield f"No replay: {choice.replay_missing}"
        return
    springs, nights = choice.replay.springs.years, choice.replay.horizon
    ran = f"{springs.size} springs {springs[0]}-{springs[-1]} with drawn forecasts of {nights} nights"
    yield f"The other columns replay {ran}"
    yield f"(seed {choice.seed}). opens: middle date; gained: before the curve's date; came true: went wrong."


def say_costs(choice: Choice, stakes: Stakes) -> Iterator[str]:
    """Tell what the grower's two numbers lead to, and why."""
    yield (
        f"A day's delay costs {stakes.cost_per_day:,g}, a killed flush {stakes.loss:,g}: "
        f"as much as {stakes.days_worth:,.3g} days of waiting."
    )
    if choice.advice is None:
        yield "No limit has a date to wait for, so there is nothing to weigh."
        return
    yield "cost: of days waited after opening at the largest limit, and of flushes lost, in a mean spring"
    yield "by the curve." if choice.replay is None else "by what came true; as stated: by the risk stated."
    yield from _say_least(choice, choice.advice)
    yield "Were the choice only to feed at once or to wait for the last date above (the cost-loss ratio):"
    if choice.advice.feed_or_wait is None:
        yield "waiting would always be cheaper."
    else:
        yield say_ratio(choice.advice.feed_or_wait, stakes)
        yield "But one can also wait a few days and look again; that is what the costs in the table weigh."


def _say_least(choice: Choice, advice: Advice) -> Iterator[str]:
    row = next(row for row in advice.weighed if row.limit == advice.recommended)
    basis = "the curve" if choice.replay is None else "the replay"
    fate = f"by {basis} it waits {row.days_waited:.1f} days and loses {say_share(row.bad_share)} of flushes"
    yield f"Recommended {MARK} {say_share(row.limit)}: {fate}, {row.cost:,.0f} in a mean spring."
    came, stated = cheapest(advice.weighed).limit, cheapest(advice.stated).limit
    least = f"By what came true {say_share(came)} costs least, by the risk stated {say_share(stated)}"
    yield "It costs least of the limits in the table." if came == stated else f"{least}: the safer is taken."
    others = [say_share(one.limit) for one in advice.weighed if one.as_good and one.limit != row.limit]
    if others and choice.replay is not None:
        yield f"So few springs cannot tell its cost from that at {' or '.join(others)}."


def say_ratio(found: CostLoss, stakes: Stakes) -> str:
    """Tell what follows from the cost-loss ratio alone."""
    amounts = (found.days_gained, stakes.cost_per_day * found.days_gained, stakes.loss)
    days, waiting, loss = (
        f"{one:,.0f}" if one >= 100 or one == round(one) else f"{one:.3g}" for one in amounts
    )
    both = f"{days} days of waiting cost {waiting}, a killed flush {loss}"
    percent, most = f"{100 * found.ratio:.2g} %", say_share(LARGEST_TOLERANCE)
    if found.ratio > 1.0:
        return f"{both}: by these numbers never wait; still no limit lies above {most}."
    if found.ratio > LARGEST_TOLERANCE:
        return f"{both}, a ratio of {percent}; no limit lies above {most}."
    return f"{both}: feed once the risk is below {percent}."


def errors_answer(fitted: FittedErrors, trial: Trial | None, damage_temp_c: float) -> Plain:
    """Return bias and spread by lead, and how the fit does on other mornings, under stable names."""
    of_leads = {"lead_days": fitted.lead_days, "pairs": fitted.lead_pairs}
    answer = {
        "pairs": fitted.pairs,
        "leads": rows_of(**of_leads, bias_c=fitted.bias_c, sd_c=fitted.sd_c),
        **named(fitted, *SPREAD, *CRPS),
        "damage_temp_c": damage_temp_c,
        "trial": trial
        and named(trial, *TRIED)
        | {
            "reliability": [
                {"nights": int(count), "stated": stated, "came_true": happened, "band": band}
                for count, stated, happened, *band in _stated(trial)
            ]
        },
    }
    return dict(plain(answer, DIGITS | {"lead_days": None}))


def errors_parts(
    fitted: FittedErrors, trial: Trial | None, damage_temp_c: float, unit: TemperatureUnit
) -> Iterator[Part]:
    """Write bias and spread by lead, tails, correlation, and how the fit does on mornings it has not seen."""
    per_c = 1.8 if unit == "F" else 1.0
    leads = zip(fitted.lead_days, fitted.lead_pairs, fitted.bias_c, fitted.sd_c, strict=True)
    rows = [
        {
            "lead [d]": f"{lead:.2f}",
            "nights": f"{pairs}",
            f"bias [°{unit}]": f"{bias_c * per_c:+.2f}",
            f"spread [°{unit}]": f"{sd_c * per_c:.2f}",
        }
        for lead, pairs, bias_c, sd_c in leads
    ]
    tails = f"on {say_share(fitted.wide_share)} of nights {fitted.wide_factor:.1f} times as wide"
    if fitted.wide_share < 0.005 or fitted.wide_factor < 1.01:
        tails = "those of a Gaussian"
    known = "not known" if math.isnan(fitted.correlation) else f"{fitted.correlation:.2f},"
    yield f"Forecast less observed minimum, {fitted.pairs} closed nights"
    yield from (grid(rows), "", f"Tails: {tails}.")
    yield from wrapped(
        f"Correlation of consecutive nights of one forecast: {known} from {fitted.correlated_pairs} pairs."
    )
    yield from wrapped(
        f"CRPS {say_offset(fitted.crps_c, unit)} with this error, {say_offset(fitted.raw_crps_c, unit)} "
        "by the bare forecast (its mean absolute error); the less the better."
    )
    yield ""
    if trial is None:
        yield f"Not tried on other mornings: that takes {2 * FEWEST_MORNINGS} closed mornings."
    else:
        yield from _trial_parts(trial, f"{say_temperature(damage_temp_c, unit)} or less", unit)


def _trial_parts(trial: Trial, frost: str, unit: TemperatureUnit) -> Iterator[Part]:
    yield from wrapped(
        f"Fitted to the first {trial.fitted_mornings} mornings and tried on the last {trial.tried_mornings}: "
        f"CRPS {say_offset(trial.crps_c, unit)}, by the bare forecast {say_offset(trial.raw_crps_c, unit)}; "
        f"Brier score of {frost} {trial.brier:.4f}, by the bare forecast {trial.raw_brier:.4f}, by the "
        f"share of such nights {trial.usual_brier:.4f}."
    )
    rows = [
        {
            "stated": f"{stated:.1%}",
            "came true": f"{happened:.1%}",
            "nights": f"{count:.0f}",
            "95 % band": f"{low:.0%} to {high:.0%}",
        }
        for count, stated, happened, low, high in _stated(trial)
    ]
    yield from ("", f"The chance of {frost}, as stated and as it came true", grid(rows), "")
    yield from wrapped(
        "Where the stated chance is right, 95 of 100 such shares lie in the band: the wider of that of "
        "independent nights and that of whole days."
    )


def _stated(trial: Trial) -> Iterator[tuple[float, float, float, float, float]]:
    """Return the groups in which something was stated; few nights alike show no scatter by days."""
    for count, stated, happened, low, high in trial.groups[np.isfinite(trial.groups[:, 1])].tolist():
        even_low, even_high = consistency_band(stated, int(count))
        yield count, stated, happened, min(low, even_low), max(high, even_high)
