"""The morning's command: is it safe to feed yet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.options import shared
from frostgate.errors import InputError, visible
from frostgate.model.gate import State
from frostgate.model.records import Completeness
from frostgate.service.request import Degrees, option

STATUS = {"open": 0, "shut": 1, "unknown": 3}
COLOUR = {"open": "green", "shut": "red", "unknown": "yellow"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayOptions(options.PlaceOptions):
    """The options of the command: a request, and how it is answered."""

    garden: Path | None = shared(options.garden_option)
    record: Path | None = option("The station's record of daily minima.  [default: the garden's]")
    forecast: Path | None = option("The forecast; without one the verdict is unknown.")
    offset_spread: Degrees | None = option(
        "How sure --offset is: its spread on a single frost night.", type=options.SPREAD
    )
    forecast_offset: Degrees | None = option(
        "Garden less forecast, where it is not as --offset.", type=options.OFFSET
    )
    exposed_from: int | None = option(
        "Days from feeding to the first minimum that can do harm.  [default: 1]", metavar="DAYS"
    )
    max_age: float | None = option(
        "Hours after which a forecast is too old to trust.  [default: 48]", metavar="HOURS"
    )
    climate_only: bool = option("Answer by the curve alone, without any forecast.")
    forecast_log: Path | None = option(
        "Keep the forecast in FILE, and learn from its past nights how forecasts err here."
    )
    observed: Path | None = option("The garden's own minima; they close the nights of --forecast-log.")
    time_zone: str | None = option("Of the garden, where the forecast does not tell.", metavar="ZONE")
    offline: bool = option("In a garden: use what is kept and ask nobody.")
    full: bool = option("In a garden: also what the answer rests on.")
    completeness: Completeness = shared(options.completeness_option)


@click.command(epilog="Exit status: 0 open, 1 shut, 3 unknown, 2 an error.")
@options.gathered(TodayOptions)
def today(given: TodayOptions) -> int:
    """Say whether it is safe to feed yet.

    Joins the station's past with the forecast and answers open, shut or unknown, with the reasons, the
    earliest date for the risk you accept, and what would change it. In a garden (a garden.toml here, or
    --garden) it also says which pots are due, what is at risk tonight, and what to log.
    """
    is_named = (
        click.get_current_context().get_parameter_source("garden") is click.core.ParameterSource.COMMANDLINE
    )
    garden = options.named_garden(given.garden) if is_named or not given.record else None
    now, cache = options.clock(), options.cache_folder()
    if garden is None:
        from frostgate.service.morning import ask_files
        from frostgate.show.morning import morning_lines

        shown, (morning, own) = None, ask_files(given, now, cache, given.forecast_log, given.observed)
        if given.forecast_log:
            options.remember(f"The log of forecasts is up to date: {given.forecast_log}")
        unit = given.unit_shown(morning.site.curve.step_c if morning.site else None)
        lines = morning_lines(morning, unit)
    else:
        _refuse_own_log(given)
        from frostgate.service.season import ask_garden
        from frostgate.show.morning import garden_lines

        shown, own = ask_garden(garden, given, now, cache)
        if shown.kept:
            options.remember("This morning's forecast and verdict are in the journal.")
        morning, unit, lines = shown.morning, shown.unit, garden_lines(shown, full=given.full)
    if given.form == "json":
        from frostgate.show.answers import morning_answer, own_answer
        from frostgate.show.morning import garden_answer

        more = {"own_errors": own_answer(own)} | ({} if shown is None else garden_answer(shown))
        options.echo_json(morning_answer(morning, unit) | more)
    else:
        _echo(lines, morning.verdict.state)
    return STATUS[morning.verdict.state]


def _refuse_own_log(given: TodayOptions) -> None:
    for flag, path in (("--forecast-log", given.forecast_log), ("--observed", given.observed)):
        if path is not None:
            remedy = "Leave the option out, and log minima with: frostgate log minimum 29F."
            what = "a garden keeps its forecasts and minima in its journal"
            raise InputError(what, value=flag, remedy=remedy)


def _echo(lines: Iterable[str], state: State) -> None:
    """Write the screen, the verdict's word in its colour and the frost's lines bold."""
    for line in map(visible, lines):
        word, _, rest = line.partition(" ")
        if word == state.upper():
            click.echo(f"{click.style(word, fg=COLOUR[state], bold=True)} {rest}")
        else:
            click.echo(click.style(line, bold=True) if word in {"FROST", "WATCH"} else line)
