"""The command that tells what to mix."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.options import shared
from frostgate.service.mix import MixOptions, mix_groups
from frostgate.show.mixes import mixes_answer, mixes_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class MixCommandOptions(MixOptions):
    """The options of the command: what is to be mixed, in which garden, and how it is answered."""

    garden: Path | None = shared(options.garden_option)
    form: str = shared(options.format_option("text", "json"))


@click.command()
@options.gathered(MixCommandOptions)
def mix(given: MixCommandOptions) -> None:
    """Tell what to mix: spoons and grams for each bucket, and what the pots get.

    Works from the garden file, or from --product, --pots, --per-pot and --bucket alone. A mix that breaks a
    label or would harm roots is refused, with the reason.
    """
    mixes = mix_groups(given, options.named_garden(given.garden))
    options.answer(given.form, lambda: mixes_answer(mixes), lambda: mixes_lines(mixes))
