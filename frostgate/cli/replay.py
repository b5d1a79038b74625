"""The command that replays a station's past springs."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import click

from frostgate.cli import options
from frostgate.cli.reading import RecordWish
from frostgate.cli.values import OFFSET, TEMPERATURE, YEARS, Degrees
from frostgate.terms import Policy


@click.command()
@click.argument("file", type=options.FILE)
@click.option("--damage-temp", type=TEMPERATURE, default="32F", show_default=True,
              help="A minimum at or below this in the garden kills the flush.")  # fmt: skip
@click.option("--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder.")
@click.option("--horizon", type=click.IntRange(1, 14), help="Nights each forecast tells of.  [default: 7]")
@click.option("--years", type=YEARS, metavar="FROM-TO", help="Only the springs of these years.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the drawn forecasts.")
@click.option("--kind", default="student", show_default=True, metavar="NAME",
              help="Curve: empirical, normal, student, skewed or smooth.")  # fmt: skip
@options.record_options
@options.format_option("text", "json")
def replay(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Replay every past spring: how often the gate would have gone wrong, and what it gains.

    Each spring is judged by the others, morning by morning, with drawn forecasts whose errors are those of
    the gate's policy. A stated risk that means what it says comes true as often as it is stated.
    """
    from frostgate.proof.replay import replay_springs
    from frostgate.proof.springs import lay_out_springs
    from frostgate.show.replays import replay_answer, write_replay

    wish = Wish(**given)
    past = wish.read()
    policy = Policy(damage_temp_c=wish.damage_temp[0], offset_c=wish.offset[0] if wish.offset else 0.0)
    springs = lay_out_springs(
        past.minima, policy.station_threshold_c, past.start, kind=wish.kind, years=wish.years
    )
    done = replay_springs(springs, policy, seed=wish.seed, horizon=wish.horizon)
    if wish.form == "json":
        answer = replay_answer(done, past.minima.station, wish.seed)
        click.echo(json.dumps(answer, ensure_ascii=False, indent=2))
    else:
        write_replay(done, past.minima.station, wish.seed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(RecordWish):
    """What replay is wanted: the options of the command, one field each."""

    damage_temp: Degrees
    offset: Degrees | None
    horizon: int | None
    years: tuple[int, int] | None
    seed: int
    kind: str
    form: str
