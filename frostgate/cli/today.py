"""The morning's command: is it safe to feed yet."""

from __future__ import annotations

import json
from typing import Any

import click

from frostgate.cli import options
from frostgate.cli.asking import ask_site
from frostgate.cli.clock import moment
from frostgate.cli.garden_file import garden_option, named_garden
from frostgate.cli.own_log import OwnLog, own_answer, with_reason
from frostgate.cli.today_wish import STATUS, Wish, coloured
from frostgate.cli.values import DATE, OFFSET, SHARE, SPREAD, TEMPERATURE


@click.command(epilog="Exit status: 0 open, 1 shut, 3 unknown, 2 an error.")
@garden_option
@click.option(
    "--record", type=options.FILE, help="The station's record of daily minima.  [default: the garden's]"
)
@click.option("--forecast", type=options.FILE, help="The forecast; without one the verdict is unknown.")
@click.option("--on", type=DATE, metavar="DATE", help="Answer as on the morning of this day, YYYY-MM-DD.")
@click.option("--risk", type=SHARE, help="The risk you can live with.  [default: the garden's, or 10%]")
@click.option(
    "--damage-temp",
    type=TEMPERATURE,
    help="A minimum at or below this in the garden kills the flush.  [default: the garden's, or 32F]",
)
@click.option("--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder.")
@click.option(
    "--offset-spread", type=SPREAD, help="How sure --offset is: its spread on a single frost night."
)
@click.option("--forecast-offset", type=OFFSET, help="Garden less forecast, where it is not as --offset.")
@click.option("--exposed-from", type=click.IntRange(0, 7),
              help="Days from feeding to the first minimum that can do harm.  [default: 1]")  # fmt: skip
@click.option("--max-age", type=click.FloatRange(min=0, min_open=True),
              help="Hours after which a forecast is too old to trust.  [default: 48]")  # fmt: skip
@click.option("--climate-only", is_flag=True, help="Answer by the curve alone, without any forecast.")
@click.option(
    "--forecast-log",
    type=options.FILE,
    help="Keep the forecast in FILE, and learn from its past nights how forecasts err here.",
)
@click.option(
    "--observed",
    type=options.FILE,
    help="The garden's own minima; they close the nights of --forecast-log.",
)
@click.option("--time-zone", metavar="ZONE", help="Of the garden, where the forecast does not tell.")
@click.option("--offline", is_flag=True, help="In a garden: use what is kept and ask nobody.")
@click.option("--full", is_flag=True, help="In a garden: also what the answer rests on.")
@options.record_options
@options.kind_option
@options.basis_option
@options.completeness_option
@options.show_option
@options.format_option("text", "json")
def today(**given: Any) -> int:  # noqa: ANN401  # click hands the options over by name
    """Say whether it is safe to feed yet.

    Joins the station's past with the forecast and answers open, shut or unknown, with the reasons, the
    earliest date for the risk you accept, and what would change it. In a garden (a garden.toml here, or
    --garden) it also says which pots are due, what is at risk tonight, and what to log.
    """
    wish = Wish(**given)
    garden = None if wish.record and not _names_garden() else named_garden(wish.garden)
    if garden is None:
        return answer(wish)
    from frostgate.cli.garden_morning import answer_in

    return answer_in(garden, wish)


def _names_garden() -> bool:
    """Tell whether a garden file was named, and not only found in this folder."""
    source = click.get_current_context().get_parameter_source("garden")
    return source is click.core.ParameterSource.COMMANDLINE


def answer(wish: Wish) -> int:
    """Decide by the files named, write the answer and return its exit status."""
    question = wish.ask(None, **wish.asked())
    coming = question.coming()
    now = moment(wish.on, question.time_zone or (coming.time_zone if coming else None))
    log = OwnLog.named(wish.forecast_log, wish.observed, wish.unit)
    if log is not None:
        question.refuse_another_time(coming, now.date())
        log.update(None if wish.climate_only else coming, now.date())
    morning, own = ask_site(question, coming, now, None if log is None else log.learn)
    morning = with_reason(morning, own, morning.unit)
    if wish.form == "json":
        from frostgate.show.answers import morning_answer

        said = morning_answer(morning) | {"own_errors": own_answer(own)}
        click.echo(json.dumps(said, ensure_ascii=False, indent=2))
    else:
        from frostgate.show.morning import morning_lines

        headline, *lines = morning_lines(morning)
        click.echo(coloured(headline, morning.verdict.state))
        click.echo("\n".join(lines))
    return STATUS[morning.verdict.state]
