"""The command that tells what to mix."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.options import echo_json, garden_option, named_garden
from frostgate.model.garden import STAGES
from frostgate.service.mix import MixOptions, mix_groups
from frostgate.show.mixes import mixes_answer, mixes_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Options(MixOptions):
    """The options of the command, one field each."""

    garden: Path | None
    form: str


@click.command()
@garden_option
@click.option("--group", metavar="NAME", help="Only this group of the garden file.  [default: all that suit]")
@click.option("--phase", metavar="NAME", help="Mix what this phase of the garden's season feeds.")
@click.option("--product", "products", multiple=True, metavar="NAME|LABEL",
              help='A product of the garden file by name, or one by its label, such as "Spring feed 24-8-16 '
                   'soluble 1 tbsp/gal"; behind it may stand max 2 tbsp/gal, 6 g/tsp, organic, Mg 2, '
                   "ec 0.64 mS/cm at 100 ppm N. May be repeated.")  # fmt: skip
@click.option(
    "--strength",
    type=options.STRENGTH,
    metavar="SHARE",
    help="Of the label's rate: full, half, quarter or 75%.  [default: as the phase says, or full]",
)
@click.option("--n-ppm", type=options.PPM, metavar="PPM", help="Nitrogen wanted in the solution [mg/L].")
@click.option("--pots", type=click.IntRange(1, 100_000), metavar="N", help="How many pots or trees.")
@click.option("--per-pot", type=options.VOLUME, help="Solution for each, such as 1gal or 4l.")
@click.option("--bucket", type=options.VOLUME, help="What the bucket or tank holds, such as 5gal.")
@click.option("--scoop", "scoops", type=options.SCOOP, multiple=True,
              help="A measure at hand, such as 1.5tbsp or 5ml; may be repeated.")  # fmt: skip
@click.option(
    "--stage", type=click.Choice(STAGES), help="Of the pots; young roots get half strength at most."
)
@click.option("--height", type=options.LENGTH, help="Of the trees, where a rate goes by it, such as 6ft.")
@click.option("--dry", is_flag=True, help="The root balls are dry.")
@click.option(
    "--measured",
    multiple=True,
    metavar="NAME=AMOUNT",
    help='Tell what the bucket holds with this in it, such as "Spring feed=3 tbsp"; may be repeated.',
)
@click.option("--injector", type=options.RATIO, help="Make a stock solution for this ratio, such as 1:100.")
@click.option("--stock", type=options.VOLUME, help="What the stock tank holds, such as 5gal.")
@click.option("--ec-limit", type=options.EC, help="Mix nothing above it [mS/cm].  [default: 3, from memory]")
@click.option("--water-ec", type=options.EC, help="Of the water itself, as measured [mS/cm].")
@click.option(
    "--units",
    type=click.Choice(["us", "metric"]),
    help="Of what is shown.  [default: as the garden file, or the quantities, are written]",
)
@options.format_option("text", "json")
@options.gathered(Options)
def mix(given: Options) -> None:
    """Tell what to mix: spoons and grams for each bucket, and what the pots get.

    Works from the garden file, or from --product, --pots, --per-pot and --bucket alone. A mix that breaks a
    label or would harm roots is refused, with the reason.
    """
    mixes = mix_groups(given, named_garden(given.garden))
    if given.form == "json":
        echo_json(mixes_answer(mixes))
    else:
        click.echo("\n".join(mixes_lines(mixes)))
