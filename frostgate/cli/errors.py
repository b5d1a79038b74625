"""The command that says how a forecast errs, from a log of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.options import argument, shared
from frostgate.errors import about
from frostgate.service.request import Degrees, option
from frostgate.units import TemperatureUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorsOptions:
    """The options of the command."""

    file: Path = argument()
    damage_temp: Degrees = option(
        "The chance of a minimum at or below this is held against what came.", default="32F"
    )
    show: TemperatureUnit | None = option("Unit of the temperatures shown.")
    form: str = shared(options.format_option("text", "json"))


@click.command()
@options.gathered(ErrorsOptions)
def errors(given: ErrorsOptions) -> None:
    """Say how a forecast errs: bias and spread by lead, tails, correlation, and whether its chances hold.

    FILE is a log as `frostgate today --forecast-log` keeps it, with the columns issued_at, morning,
    forecast_c and observed_c, and place where it holds several places.
    """
    from frostgate.proof.error_fits import fit_errors, try_fit
    from frostgate.show.proofs import errors_answer, errors_parts
    from frostgate.sources.forecast_log import read_log

    log, (damage_temp_c, unit) = read_log(given.file), given.damage_temp
    with about(given.file):
        fitted, trial = fit_errors(log), try_fit(log, damage_temp_c)
    options.answer(
        given.form,
        lambda: errors_answer(fitted, trial, damage_temp_c),
        lambda: errors_parts(fitted, trial, damage_temp_c, given.show or unit),
    )
