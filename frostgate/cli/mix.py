"""The command that tells what to mix."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.options import Written, option, shared
from frostgate.errors import InputError
from frostgate.feeding.labels import parse_ec_ms_cm
from frostgate.garden.written import parse_strength
from frostgate.model.garden import STAGES, Stage
from frostgate.service.mix import MixOptions, mix_groups
from frostgate.show.mixes import mixes_answer, mixes_lines
from frostgate.units import Measured, Units, parse_length_m, parse_ratio, parse_volume_l


def read_strength(text: str) -> float:
    """Read a share of the label's rate; more than the rate is said in %."""
    percent = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*%\s*", text)
    return float(percent[1]) / 100.0 if percent and float(percent[1]) > 100.0 else parse_strength(text)


def read_ppm(text: str) -> float:
    """Read parts per million."""
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:ppm)?\s*", text, re.IGNORECASE)
    if match is None or not 0.0 < float(match[1]) < 1e5:
        raise InputError("not parts per million", value=text, remedy="Write it as 150.")
    return float(match[1])


def _scoop(text: str) -> Measured:
    """Read a scoop, and space its name as it is shown: ``2.5 tsp``."""
    return Measured(parse_volume_l(text), re.sub(r"(?<=[\d½¼¾⅓⅔⅛])(?=[a-z])", " ", text.strip().lower()))


VOLUME = Written("volume", lambda text: Measured(parse_volume_l(text), text))
EC = Written("ms/cm", parse_ec_ms_cm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Options(MixOptions):
    """The options of the command."""

    garden: Path | None = shared(options.garden_option)
    group: str | None = option(
        metavar="NAME", help="Only this group of the garden file.  [default: all that suit]"
    )
    phase: str | None = option(metavar="NAME", help="Mix what this phase of the garden's season feeds.")
    products: tuple[str, ...] = option(
        "--product",
        multiple=True,
        metavar="NAME|LABEL",
        help='A product of the garden file by name, or one by its label, such as "First feed 17-5-9 soluble '
        '2 tsp/gal"; behind it may stand max 3 tsp/gal, 5.1 g/tsp, organic, Mg 2, ec 0.9 mS/cm at 100 ppm N. '
        "May be repeated.",
    )
    strength: float | None = option(
        type=Written("share", read_strength),
        metavar="SHARE",
        help="Of the label's rate: full, half, quarter or 75%.  [default: as the phase says, or full]",
    )
    n_ppm: float | None = option(
        type=Written("ppm", read_ppm), metavar="PPM", help="Nitrogen wanted in the solution [mg/L]."
    )
    pots: int | None = option(type=click.IntRange(1, 100_000), metavar="N", help="How many pots or trees.")
    per_pot: Measured | None = option(type=VOLUME, help="Solution for each, such as 3qt or 3l.")
    bucket: Measured | None = option(type=VOLUME, help="What the bucket or tank holds, such as 3.5gal.")
    scoops: tuple[Measured, ...] = option(
        "--scoop",
        type=Written("volume", _scoop),
        multiple=True,
        help="A measure at hand, such as 2.5tsp or 12ml; may be repeated.",
    )
    stage: Stage | None = option(
        type=click.Choice(STAGES), help="Of the pots; young roots get half strength at most."
    )
    height: Measured | None = option(
        type=Written("length", lambda text: Measured(parse_length_m(text), text)),
        help="Of the trees, where a rate goes by it, such as 6ft.",
    )
    dry: bool = option(is_flag=True, help="The root balls are dry.")
    measured: tuple[str, ...] = option(
        multiple=True,
        metavar="NAME=AMOUNT",
        help='Tell what the bucket holds with this in it, such as "First feed=3 tbsp"; may be repeated.',
    )
    injector: float | None = option(
        type=Written("ratio", parse_ratio), help="Make a stock solution for this ratio, such as 1:100."
    )
    stock: Measured | None = option(type=VOLUME, help="What the stock tank holds, such as 3.5gal.")
    ec_limit: float | None = option(type=EC, help="Mix nothing above it [mS/cm].  [default: 3, from memory]")
    water_ec: float | None = option(type=EC, help="Of the water itself, as measured [mS/cm].")
    units: Units | None = option(
        type=click.Choice(["us", "metric"]),
        help="Of what is shown.  [default: as the garden file, or the quantities, are written]",
    )
    form: str = shared(options.format_option("text", "json"))


@click.command()
@options.gathered(Options)
def mix(given: Options) -> None:
    """Tell what to mix: spoons and grams for each bucket, and what the pots get.

    Works from the garden file, or from --product, --pots, --per-pot and --bucket alone. A mix that breaks a
    label or would harm roots is refused, with the reason.
    """
    mixes = mix_groups(given, options.named_garden(given.garden))
    options.answer(given.form, lambda: mixes_answer(mixes), lambda: mixes_lines(mixes))
