"""The command that helps to choose a limit of risk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from frostgate.cli import options
from frostgate.cli.options import progress_bar
from frostgate.errors import InputError, TooFewSeasonsError, about
from frostgate.model.gate import Policy
from frostgate.proof.limits import Stakes
from frostgate.service.request import option

if TYPE_CHECKING:
    from frostgate.show.proofs import Choice


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskOptions(options.ReplayedOptions):
    """The options of the command."""

    risks: tuple[float, ...] = option(
        "Another limit to show beside 2, 5, 10, 20, 30 and 50 %; may be repeated.",
        "--risk",
        type=options.SHARE,
    )
    years_ahead: int = option("The springs you plan for.", type=click.IntRange(1, 200), default=10)
    cost_per_day: float | None = option("What one day's delay of feeding costs.", metavar="MONEY")
    loss: float | None = option("What a killed flush costs, in the same money.", metavar="MONEY")


@click.command()
@options.gathered(RiskOptions)
def risk(given: RiskOptions) -> None:
    """Choose the risk you can live with: dates, bad springs and costs of several limits side by side.

    With two plain numbers, what a day's delay costs and what a killed flush costs, it also says which limit
    costs least over the years.
    """
    from frostgate.show.proofs import choice_parts, risk_answer

    choice = _lay_out(given, _stakes(given))
    options.answer(given.form, lambda: risk_answer(choice), lambda: choice_parts(choice))


def _stakes(given: RiskOptions) -> Stakes | None:
    """Return what a day and a flush are worth, or None where neither is told."""
    if given.cost_per_day is None and given.loss is None:
        return None
    if given.cost_per_day is None or given.loss is None:
        raise InputError(
            "one of two numbers is missing",
            value="--cost-per-day" if given.cost_per_day is None else "--loss",
            remedy="Give both --cost-per-day and --loss, in the same money.",
        )
    return Stakes(cost_per_day=given.cost_per_day, loss=given.loss)


def _lay_out(given: RiskOptions, stakes: Stakes | None) -> Choice:
    """Lay out the limits, and weigh them where the grower's numbers are given."""
    from frostgate.climate.site import know_site
    from frostgate.proof.limits import advise, lay_out_limits
    from frostgate.proof.replay import TOLERANCES, replay_springs
    from frostgate.proof.springs import lay_out_springs
    from frostgate.show.proofs import Choice

    limits_wanted = [Policy(risk_tolerance=risk).risk_tolerance for risk in given.risks]
    policy, past = given.policy, given.read(given.file)
    with about(given.file, TooFewSeasonsError):
        site = know_site(
            past.minima, policy.station_threshold_c, past.start, kind=given.kind, keep_suspects=True
        )  # the suspects that are not kept are left out by now
    risks = tuple(sorted({*TOLERANCES, *limits_wanted}))
    kind = "pooled" if given.kind == "best" else site.curve.kind  # best has seen the springs it would judge
    done, missing = None, None
    try:
        springs = lay_out_springs(past.minima, policy.station_threshold_c, past.start, kind=kind)
        with progress_bar("Replaying springs") as advance:
            done = replay_springs(springs, policy, seed=given.seed, tolerances=risks, advance=advance)
    except TooFewSeasonsError as error:
        missing = str(error)
    limits = lay_out_limits(site.curve, risks, done, policy.first_exposed_days)
    return Choice(
        station=past.minima.station,
        policy=policy,
        curve=site.curve,
        limits=limits,
        replay=done,
        replay_missing=missing,
        years_ahead=given.years_ahead,
        seed=given.seed,
        unit=given.unit_shown(None),
        stakes=stakes,
        advice=None if stakes is None else advise(site.curve, limits, stakes, policy.first_exposed_days),
    )
