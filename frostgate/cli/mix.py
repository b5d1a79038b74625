"""The command that tells what to mix."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.options import Measured, echo_json, garden_option
from frostgate.model.garden import STAGES, Stage
from frostgate.units import Units

if TYPE_CHECKING:
    from frostgate.service.mix import Made


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """The options of the command, one field each."""

    garden: Path | None
    group: str | None
    phase: str | None
    products: tuple[str, ...]
    strength: float | None
    n_ppm: float | None
    pots: int | None
    per_pot: Measured | None
    bucket: Measured | None
    scoops: tuple[Measured, ...]
    stage: Stage | None
    height: Measured | None
    dry: bool
    measured: tuple[str, ...]
    injector: float | None
    stock: Measured | None
    ec_limit: float | None
    water_ec: float | None
    units: Units | None
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
@click.option("--stage", type=click.Choice(STAGES), help="Of the pots; young roots get half strength.")
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
def mix(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Tell what to mix: spoons and grams for each bucket, and what the pots get.

    Works from the garden file, or from --product, --pots, --per-pot and --bucket alone. A mix that breaks a
    label or would harm roots is refused, with the reason.
    """
    from frostgate.service.mix import make

    wish = Wish(**given)
    made = make(wish)
    if wish.form == "json":
        echo_json(_answer(made))
    else:
        click.echo("\n".join(_lines(made)))


def _answer(made: tuple[Made, ...]) -> dict[str, Any]:
    """Return one mix as it is; of several groups each in ``mixes``, and what all share beside them."""
    from frostgate.show.mixes import mix_answer, stock_answer

    mixes = [
        {
            "group": one.group.name if one.group else None,
            "phase": one.phase,
            **(mix_answer(one.mix) if one.stock is None else stock_answer(one.stock)),
        }
        for one in made
    ]
    if len(mixes) == 1:
        return mixes[0]
    return {
        "mixes": mixes,
        "buckets": [{"group": each["group"], **bucket} for each in mixes for bucket in each["buckets"]],
        "warnings": list(dict.fromkeys(warning for each in mixes for warning in each["warnings"])),
        "cautions": list(dict.fromkeys(caution for each in mixes for caution in each["cautions"])),
    }


def _lines(made: tuple[Made, ...]) -> list[str]:
    from frostgate.show.mixes import caution_lines, mix_lines, stock_lines

    lines: list[str] = []
    for one in made:
        lines += [""] if lines else []
        if one.stock is None:
            lines += mix_lines(one.mix, one.group, one.units, one.phase)
        else:
            lines += stock_lines(one.stock, one.group, one.units, one.phase)
    return [*lines, *caution_lines([one.mix for one in made])]
