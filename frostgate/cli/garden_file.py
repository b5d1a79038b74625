"""The garden file that a command works from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from frostgate.cli import options

if TYPE_CHECKING:
    from frostgate.terms.garden import Garden

NAME = "garden.toml"


def here() -> Path | None:
    """Name the garden file of the current folder, where there is one.

    Examples
    --------
    >>> here() in (None, Path(NAME))
    True
    """
    return Path(NAME) if Path(NAME).is_file() else None


garden_option = click.option(
    "--garden",
    type=options.FILE,
    default=here,
    show_default=f"{NAME} in this folder, where there is one",
    metavar="FILE",
    help="The garden file.",
)


def named_garden(path: Path | None) -> Garden | None:
    """Read the garden file that was named or stands in this folder; None where there is none.

    Raises
    ------
    GardenFileError
        With every mistake in it.

    Examples
    --------
    >>> named_garden(None) is None
    True
    """
    if path is None:
        return None
    from frostgate.garden.settings import read_garden  # a command without a garden need not load it

    return read_garden(path, options.cache_folder())
