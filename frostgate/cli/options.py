"""Options that several commands share."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from frostgate.seasons import NORTH, SOUTH, SeasonStart
from frostgate.terms import BASES, DailyMinima
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit

Command = TypeVar("Command", bound=Callable[..., Any])

HEMISPHERES = {"north": NORTH, "south": SOUTH}
FILE = click.Path(path_type=Path)

unit_option = click.option(
    "--unit",
    type=click.Choice(["F", "C", "tenths-C"], case_sensitive=False),
    help="Unit of a file that does not state its own; a file that states it is read by its own word.",
)
station_option = click.option("--station", metavar="ID", help="Which station, where the file holds several.")
hemisphere_option = click.option(
    "--hemisphere",
    type=click.Choice(list(HEMISPHERES)),
    help="Where the station lies; by default its latitude or its colder months tell.",
)
kind_option = click.option(
    "--kind",
    default="pooled",
    show_default=True,
    metavar="NAME",
    help="Curve: empirical, normal, student, skewed, smooth, pooled (the last three) or best by score.",
)
basis_option = click.option(
    "--basis",
    type=click.Choice(["best", *BASES]),
    default="best",
    show_default=True,
    help="Years of the curve: all, the recent 30, all with their trend, or the best by out-of-sample score.",
)
suspects_option = click.option(
    "--keep-suspects", is_flag=True, help="Use minima that look like plain errors all the same."
)
contradictions_option = click.option(
    "--drop-contradictions",
    is_flag=True,
    help="Leave out days that stand twice with different minima, instead of stopping.",
)
completeness_option = click.option(
    "--completeness",
    type=click.Choice(["chance", "strict"]),
    default="chance",
    show_default=True,
    help="When missing days make a season unknown: by the chance that they hide a frost, or always.",
)
show_option = click.option(
    "--show", type=click.Choice(["F", "C"], case_sensitive=False), help="Unit of the temperatures shown."
)


def record_options(command: Command) -> Command:
    """Offer the options that say how a record is read.

    Examples
    --------
    >>> record_options(lambda: 1)()
    1
    """
    for option in (
        contradictions_option,
        suspects_option,
        hemisphere_option,
        station_option,
        unit_option,
    ):
        command = option(command)
    return command


def format_option(*formats: str) -> Callable[[Command], Command]:
    """Offer some forms of output, the first by default.

    Examples
    --------
    >>> callable(format_option("text", "json"))
    True
    """
    return click.option(
        "--format",
        "form",
        type=click.Choice(formats),
        default=formats[0],
        show_default=True,
        help="Form of the answer.",
    )


def season_start(hemisphere: str | None) -> SeasonStart | None:
    """Give the season of a stated hemisphere, or None where none is stated.

    Examples
    --------
    >>> season_start("south").month
    2
    """
    return None if hemisphere is None else HEMISPHERES[hemisphere]


def shown_unit(
    show: TemperatureUnit | None, minima: DailyMinima, written: tuple[tuple[float, TemperatureUnit], ...] = ()
) -> TemperatureUnit:
    """Choose the unit of an answer: as asked, as the grower wrote, else as the station observes.

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> shown_unit(None, DailyMinima(station=Station(id="X"), dates=["2026-04-01"], tmin_c=[-2.2]))
    'F'
    """
    if show is not None:
        return show
    if written:
        return written[0][1]
    return "F" if minima.step_c == WHOLE_F_STEP_C else "C"


def cache_folder() -> Path:
    """Give the folder for what is kept: FROSTGATE_CACHE, or one among the user's own files."""
    stated = os.environ.get("FROSTGATE_CACHE")
    return Path(stated) if stated else Path(click.get_app_dir("frostgate")) / "kept"
