"""The command that replays a station's past springs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click
import numpy as np

from frostgate.cli import options
from frostgate.cli.options import progress_bar, shared
from frostgate.errors import InputError, TooFewSeasonsError, about
from frostgate.model.gate import Policy
from frostgate.seasons import Floats
from frostgate.service.request import option

if TYPE_CHECKING:
    from frostgate.proof.springs import Springs


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplayOptions(options.ReplayedOptions):
    """The options of the command."""

    risk: float = option(
        "The limit at which the springs that went wrong are told of.", type=options.SHARE, default="10%"
    )
    horizon: int | None = option("Nights each forecast tells of.  [default: 14]", type=click.IntRange(1, 14))
    years: tuple[int, int] | None = option("Only the springs of these years.")
    kind: str = option(
        "Curve: empirical, normal, student, skewed, smooth or pooled.", default="pooled", metavar="NAME"
    )
    forecast_log: Path | None = option("Forecasts kept in a log or a garden's journal, for their springs.")
    chart: options.NewFile | None = option(
        "Draw stated risk against what came true into a .png or .svg file."
    )
    replace: bool = shared(options.replace_option)


@click.command()
@options.gathered(ReplayOptions)
def replay(given: ReplayOptions) -> None:
    """Replay every past spring: how often the gate would have gone wrong, and what it gains.

    Each spring is judged by the others, morning by morning, with drawn forecasts whose errors are those of
    the gate's policy, or with those that were kept. A stated risk that means what it says comes true as often
    as it is stated.
    """
    from frostgate.proof.replay import TOLERANCES, replay_springs
    from frostgate.proof.springs import lay_out_springs
    from frostgate.show.proofs import replay_answer, replay_parts

    policy, past = given.policy, given.read(given.file)
    station = past.minima.station
    with about(given.file, TooFewSeasonsError):
        springs = lay_out_springs(
            past.minima, policy.station_threshold_c, past.start, kind=given.kind, years=given.years
        )
    kept_c = None
    if given.forecast_log is not None:
        kept_c = _kept_c(given.forecast_log, springs, policy, given.horizon)
    with progress_bar("Replaying springs") as advance:
        done = replay_springs(
            springs,
            policy,
            seed=given.seed,
            horizon=given.horizon,
            tolerances=sorted({*TOLERANCES, given.risk}),
            forecasts_c=kept_c,
            advance=advance,
        )
    if given.chart is not None:
        from frostgate.show.charts.risks import draw_reliability

        options.echo_chart(draw_reliability(done, station=station), given.chart)
    options.answer(
        given.form,
        lambda: replay_answer(done, station, given.seed, policy),
        lambda: replay_parts(done, station, given.seed, policy, given.unit_shown(None)),
    )


def _kept_c(path: Path, springs: Springs, policy: Policy, horizon: int | None) -> Floats:
    """Lay the kept forecasts out [°C]; a log that tells of none of the springs is an error."""
    from frostgate.proof.replay import HABIT_NIGHTS
    from frostgate.proof.springs import lay_out_kept
    from frostgate.service.morning import read_any_log

    nights = max(horizon or policy.window_days, HABIT_NIGHTS)
    with about(path):
        kept_c = lay_out_kept(read_any_log(path), springs, policy, nights)
    if not np.isfinite(kept_c).any():
        raise InputError(
            "no forecast in the log is of a spring that is replayed",
            file=path,
            value=f"springs {springs.years[0]}-{springs.years[-1]}",
            remedy="Take a record that reaches the years of the log.",
        )
    return kept_c
