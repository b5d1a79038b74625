"""The command that helps to choose a limit of risk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.fetching import progress_bar
from frostgate.cli.options import OFFSET, SHARE, TEMPERATURE, Degrees, Past, RecordWish, echo_json
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.gate.tolerance import Stakes
from frostgate.model.gate import Policy
from frostgate.model.records import FrostCurve

if TYPE_CHECKING:
    from frostgate.proof.replay import Replay
    from frostgate.show.tolerances import Choice


@click.command()
@click.argument("file", type=options.FILE)
@click.option("--damage-temp", type=TEMPERATURE, default="32F", show_default=True,
              help="A minimum at or below this in the garden kills the flush.")  # fmt: skip
@click.option("--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder.")
@click.option("--risk", "risks", type=SHARE, multiple=True, metavar="SHARE",
              help="Another limit to show beside 2, 5, 10, 20, 30 and 50 %; may be repeated.")  # fmt: skip
@click.option("--years-ahead", type=click.IntRange(1, 200), default=10, show_default=True,
              help="The springs you plan for.")  # fmt: skip
@click.option("--cost-per-day", type=float, metavar="MONEY", help="What one day's delay of feeding costs.")
@click.option("--loss", type=float, metavar="MONEY", help="What a killed flush costs, in the same money.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the replay's drawn forecasts.")
@options.kind_option
@options.record_options
@options.format_option("text", "json")
def risk(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Choose the risk you can live with: dates, bad springs and costs of several limits side by side.

    With two plain numbers, what a day's delay costs and what a killed flush costs, it also says which limit
    costs least over the years.
    """
    wish = Wish(**given)
    stakes, policy = wish.stakes(), wish.policy()
    choice = wish.choose(wish.read(), policy, stakes)
    from frostgate.show.tolerances import risk_answer, write_choice

    if wish.form == "json":
        echo_json(risk_answer(choice))
    else:
        write_choice(choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(RecordWish):
    """What choice is wanted: the options of the command, one field each."""

    damage_temp: Degrees
    offset: Degrees | None
    risks: tuple[float, ...]
    years_ahead: int
    cost_per_day: float | None
    loss: float | None
    seed: int
    kind: str
    form: str

    def policy(self) -> Policy:
        """Return the grower's numbers, once every limit asked for has been found to be one."""
        offset_c = self.offset[0] if self.offset else 0.0
        for risk in self.risks:
            Policy(risk_tolerance=risk)
        return Policy(damage_temp_c=self.damage_temp[0], offset_c=offset_c)

    def stakes(self) -> Stakes | None:
        """Return what a day and a flush are worth, or None where neither is told."""
        if self.cost_per_day is None and self.loss is None:
            return None
        if self.cost_per_day is None or self.loss is None:
            raise InputError(
                "one of two numbers is missing",
                value="--cost-per-day" if self.cost_per_day is None else "--loss",
                remedy="Give both --cost-per-day and --loss, in the same money.",
            )
        return Stakes(cost_per_day=self.cost_per_day, loss=self.loss)

    def choose(self, past: Past, policy: Policy, stakes: Stakes | None) -> Choice:
        """Lay out the limits, and weigh them where the grower's numbers are given."""
        from frostgate.climate.site import know_site
        from frostgate.proof.limits import advise, lay_out_limits
        from frostgate.proof.replay import TOLERANCES
        from frostgate.show.tolerances import Choice

        site = know_site(
            past.minima, policy.station_threshold_c, past.start, kind=self.kind, keep_suspects=True
        )  # the suspects that are not kept are left out by now
        risks = tuple(sorted({*TOLERANCES, *self.risks}))
        done, missing = self.replayed(past, policy, site.curve, risks)
        limits = lay_out_limits(site.curve, risks, done, policy.first_exposed_days)
        return Choice(
            station=past.minima.station,
            policy=policy,
            curve=site.curve,
            limits=limits,
            replay=done,
            replay_missing=missing,
            years_ahead=self.years_ahead,
            seed=self.seed,
            unit=self.damage_temp[1],
            stakes=stakes,
            advice=None if stakes is None else advise(site.curve, limits, stakes, policy.first_exposed_days),
        )

    def replayed(
        self, past: Past, policy: Policy, curve: FrostCurve, risks: tuple[float, ...]
    ) -> tuple[Replay | None, str | None]:
        """Replay the springs of a record, or tell why that cannot be.

        A curve chosen by score has seen the springs that it would judge; the replay then takes ``pooled``.
        """
        from frostgate.proof.replay import replay_springs
        from frostgate.proof.springs import lay_out_springs

        kind = "pooled" if self.kind == "best" else curve.kind
        try:
            springs = lay_out_springs(past.minima, policy.station_threshold_c, past.start, kind=kind)
        except TooFewSeasonsError as error:
            return None, str(error)
        with progress_bar("Replaying springs") as advance:
            return replay_springs(springs, policy, seed=self.seed, tolerances=risks, advance=advance), None
