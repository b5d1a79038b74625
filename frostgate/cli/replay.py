"""The command that replays a station's past springs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from frostgate.cli import options
from frostgate.cli.fetching import progress_bar
from frostgate.cli.options import OFFSET, SHARE, TEMPERATURE, YEARS, Degrees, Past, RecordWish, echo_json
from frostgate.errors import InputError
from frostgate.model.gate import Policy
from frostgate.seasons import Floats
from frostgate.units import TemperatureUnit

if TYPE_CHECKING:
    from frostgate.model.gate import ForecastLog
    from frostgate.proof.replay import Replay
    from frostgate.proof.springs import Springs


@click.command()
@click.argument("file", type=options.FILE)
@click.option("--damage-temp", type=TEMPERATURE, default="32F", show_default=True,
              help="A minimum at or below this in the garden kills the flush.")  # fmt: skip
@click.option("--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder.")
@click.option("--risk", type=SHARE, default="10%", show_default=True,
              help="The limit at which the springs that went wrong are told of.")  # fmt: skip
@click.option("--horizon", type=click.IntRange(1, 14), help="Nights each forecast tells of.  [default: 14]")
@click.option("--years", type=YEARS, metavar="FROM-TO", help="Only the springs of these years.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the drawn forecasts.")
@click.option("--kind", default="pooled", show_default=True, metavar="NAME",
              help="Curve: empirical, normal, student, skewed, smooth or pooled.")  # fmt: skip
@click.option("--forecast-log", type=options.FILE, metavar="FILE",
              help="Forecasts kept in a log or a garden's journal, for their springs.")  # fmt: skip
@click.option("--chart", type=options.FILE, metavar="FILE",
              help="Draw stated risk against what came true into a .png or .svg file.")  # fmt: skip
@options.show_option
@options.record_options
@options.format_option("text", "json")
def replay(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Replay every past spring: how often the gate would have gone wrong, and what it gains.

    Each spring is judged by the others, morning by morning, with drawn forecasts whose errors are those of
    the gate's policy, or with those that were kept. A stated risk that means what it says comes true as often
    as it is stated.
    """
    wish = Wish(**given)
    policy = wish.policy()
    past = wish.read()
    done = wish.replayed(past, policy)
    if wish.chart is not None:
        _draw(wish.chart, done, past)
    _write(wish, past, policy, done)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(RecordWish):
    """What replay is wanted: the options of the command, one field each."""

    damage_temp: Degrees
    offset: Degrees | None
    risk: float
    horizon: int | None
    years: tuple[int, int] | None
    seed: int
    kind: str
    forecast_log: Path | None
    chart: Path | None
    show: TemperatureUnit | None
    form: str

    def policy(self) -> Policy:
        """Return the grower's numbers."""
        return Policy(
            risk_tolerance=self.risk,
            damage_temp_c=self.damage_temp[0],
            offset_c=self.offset[0] if self.offset else 0.0,
        )

    def replayed(self, past: Past, policy: Policy) -> Replay:
        """Replay the springs of a record."""
        from frostgate.proof.replay import TOLERANCES, replay_springs
        from frostgate.proof.springs import lay_out_springs

        springs = lay_out_springs(
            past.minima, policy.station_threshold_c, past.start, kind=self.kind, years=self.years
        )
        tolerances = sorted({*TOLERANCES, self.risk})
        kept_c = None if self.forecast_log is None else self.kept_c(self.forecast_log, springs, policy)
        with progress_bar("Replaying springs") as advance:
            return replay_springs(
                springs,
                policy,
                seed=self.seed,
                horizon=self.horizon,
                tolerances=tolerances,
                forecasts_c=kept_c,
                advance=advance,
            )

    def kept_c(self, path: Path, springs: Springs, policy: Policy) -> Floats:
        """Lay the kept forecasts out [°C]; a log that tells of none of the springs is an error."""
        from frostgate.proof.forecasts import lay_out_kept
        from frostgate.proof.replay import HABIT_NIGHTS

        nights = max(self.horizon or policy.window_days, HABIT_NIGHTS)
        kept_c = lay_out_kept(_read_log(path), springs, policy, nights)
        if not np.isfinite(kept_c).any():
            raise InputError(
                "no forecast in the log is of a spring that is replayed",
                file=path,
                value=f"springs {springs.years[0]}-{springs.years[-1]}",
                remedy="Take a record that reaches the years of the log.",
            )
        return kept_c


def _read_log(path: Path) -> ForecastLog:
    """Read a log of forecasts, or those in the journal of a garden."""
    if path.suffix != ".sqlite" or not path.exists():
        from frostgate.sources.forecast_log import read_log

        return read_log(path)
    from frostgate.garden.entries import forecast_log
    from frostgate.garden.journal import Journal

    with Journal.open(path) as journal:
        log = forecast_log(journal.entries(kinds=("forecast", "minimum")))
    if log is None:
        raise InputError(
            "no forecast in the journal", file=path, remedy="`frostgate today` keeps one a morning."
        )
    return log


def _write(wish: Wish, past: Past, policy: Policy, done: Replay) -> None:
    from frostgate.show.replays import replay_answer, write_replay

    station = past.minima.station
    if wish.form == "json":
        answer = replay_answer(done, station, wish.seed, policy)
        echo_json(answer)
    else:
        written = tuple(given for given in (wish.damage_temp, wish.offset) if given)
        unit = options.shown_unit(wish.show, past.minima, written)
        write_replay(done, station, wish.seed, policy, unit)


def _draw(path: Path, done: Replay, past: Past) -> None:
    from frostgate.show.charts.paper import save_chart
    from frostgate.show.charts.reliability import draw_reliability

    save_chart(draw_reliability(done, station=past.minima.station), path)
    click.echo(f"Chart written to {path}", err=True)
