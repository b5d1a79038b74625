"""The command that says how a forecast errs, from a log of it."""

from __future__ import annotations

from pathlib import Path

import click

from frostgate.cli import options
from frostgate.service.request import Degrees
from frostgate.units import TemperatureUnit


@click.command()
@click.argument("file", type=options.FILE)
@click.option(
    "--damage-temp",
    type=options.TEMPERATURE,
    default="32F",
    show_default=True,
    help="The chance of a minimum at or below this is held against what came.",
)
@options.show_option
@options.format_option("text", "json")
def errors(file: Path, damage_temp: Degrees, show: TemperatureUnit | None, form: str) -> None:
    """Say how a forecast errs: bias and spread by lead, tails, correlation, and whether its chances hold.

    FILE is a log as `frostgate today --forecast-log` keeps it, with the columns issued_at, morning,
    forecast_c and observed_c, and place where it holds several places.
    """
    from frostgate.proof.error_fits import fit_errors, try_fit
    from frostgate.show.proofs import errors_answer, errors_parts
    from frostgate.sources.forecast_log import read_log

    log, (damage_temp_c, unit) = read_log(file), damage_temp
    fitted, trial = fit_errors(log), try_fit(log, damage_temp_c)
    options.answer(
        form,
        lambda: errors_answer(fitted, trial, damage_temp_c),
        lambda: errors_parts(fitted, trial, damage_temp_c, show or unit),
    )
