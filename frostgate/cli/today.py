"""The morning's command: is it safe to feed yet."""

from __future__ import annotations

import datetime as dt
import functools
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from frostgate.cli import options
from frostgate.cli.clock import moment
from frostgate.cli.own_log import OwnLog, own_answer, with_reason
from frostgate.cli.reading import read_hinted
from frostgate.cli.values import DATE, OFFSET, SHARE, SPREAD, TEMPERATURE, Degrees
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.gate.morning import Morning, ask
from frostgate.sources.files import read_bytes
from frostgate.sources.forecasts import read_forecast
from frostgate.sources.kept import keep_site, key_of, load_site
from frostgate.terms import Completeness, Forecast, Policy, SiteClimate, YearsWish
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit

STATUS = {"open": 0, "shut": 1, "unknown": 3}
ANOTHER_TIME = dt.timedelta(days=14)
COLOUR = {"open": "green", "shut": "red", "unknown": "yellow"}


@click.command(epilog="Exit status: 0 open, 1 shut, 3 unknown, 2 an error.")
@click.option("--record", type=options.FILE, required=True, help="The station's record of daily minima.")
@click.option("--forecast", type=options.FILE, help="The forecast; without one the verdict is unknown.")
@click.option("--on", type=DATE, metavar="DATE", help="Answer as on the morning of this day, YYYY-MM-DD.")
@click.option("--risk", type=SHARE, default="10%", show_default=True, help="The risk you can live with.")
@click.option(
    "--damage-temp",
    type=TEMPERATURE,
    help="A minimum at or below this in the garden kills the flush.  [default: 32F]",
)
@click.option("--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder.")
@click.option(
    "--offset-spread", type=SPREAD, help="How sure --offset is: its spread on a single frost night."
)
@click.option("--forecast-offset", type=OFFSET, help="Garden less forecast, where it is not as --offset.")
@click.option("--exposed-from", type=click.IntRange(0, 7), default=1, show_default=True,
              help="Days from feeding to the first minimum that can do harm.")  # fmt: skip
@click.option("--max-age", type=click.FloatRange(min=0, min_open=True), default=48.0, show_default=True,
              help="Hours after which a forecast is too old to trust.")  # fmt: skip
@click.option("--climate-only", is_flag=True, help="Answer by the curve alone, without any forecast.")
@click.option(
    "--forecast-log",
    type=options.FILE,
    help="Keep the forecast in FILE, and learn from its past nights how forecasts err here.",
)
@click.option(
    "--observed",
    type=options.FILE,
    help="The garden's own minima; they close the nights of --forecast-log.",
)
@click.option("--time-zone", metavar="ZONE", help="Of the garden, where the forecast does not tell.")
@options.record_options
@options.kind_option
@options.basis_option
@options.completeness_option
@options.show_option
@options.format_option("text", "json")
def today(**given: Any) -> int:  # noqa: ANN401  # click hands the options over by name
    """Say whether it is safe to feed yet.

    Joins the station's past with the forecast and answers open, shut or unknown, with the reasons, the
    earliest date for the risk you accept, and what would change it.
    """
    question = Question(**given)
    coming = question.coming()
    now = moment(question.on, question.time_zone or (coming.time_zone if coming else None))
    return answer(question, coming, now)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What the grower asks this morning: the options of the command, one field each."""

    record: Path
    forecast: Path | None
    on: dt.date | None
    risk: float
    damage_temp: Degrees | None
    offset: Degrees | None
    offset_spread: Degrees | None
    forecast_offset: Degrees | None
    exposed_from: int
    max_age: float
    climate_only: bool
    forecast_log: Path | None
    observed: Path | None
    time_zone: str | None
    unit: str | None
    station: str | None
    hemisphere: str | None
    kind: str
    basis: YearsWish
    completeness: Completeness
    keep_suspects: bool
    drop_contradictions: bool
    show: TemperatureUnit | None
    form: str

    def policy(self) -> Policy:
        """Give the grower's numbers."""
        return Policy(
            risk_tolerance=self.risk,
            damage_temp_c=self.damage_temp[0] if self.damage_temp else 0.0,
            offset_c=self.offset[0] if self.offset else 0.0,
            offset_sd_c=self.offset_spread[0] if self.offset_spread else 0.0,
            forecast_offset_c=self.forecast_offset[0] if self.forecast_offset else None,
            first_exposed_days=self.exposed_from,
            max_age_hours=self.max_age,
        )

    def coming(self) -> Forecast | None:
        """Read the forecast, where there is one."""
        path = self.forecast
        if path is None:
            return None
        return read_hinted(lambda unit: read_forecast(path, unit=unit, time_zone=self.time_zone), self.unit)

    def past(self, threshold_c: float, sd_c: float) -> SiteClimate:
        """Take the station's climate from what is kept, or make it and keep it."""
        content = read_bytes(self.record)
        settings = {
            "threshold_c": threshold_c,
            "threshold_sd_c": sd_c,
            "name": self.record.name,
            "unit": self.unit,
            "station": self.station,
            "hemisphere": self.hemisphere,
            "kind": self.kind,
            "years": self.basis,
            "completeness": self.completeness,
            "keep_suspects": self.keep_suspects,
            "drop_contradictions": self.drop_contradictions,
        }
        key, folder = key_of(content, **settings), options.cache_folder()
        site = load_site(folder, key)
        if site is None:
            site = self._know(content, threshold_c, sd_c)
            keep_site(folder, key, site)
        return site

    def unit_shown(self, site: SiteClimate | None) -> TemperatureUnit:
        """Choose the unit of the answer: as asked, as the grower wrote, else as the station observes."""
        if self.show:
            return self.show
        written = [given[1] for given in (self.damage_temp, self.offset, self.forecast_offset) if given]
        if written:
            return written[0]
        return "F" if site is not None and site.curve.step_c == WHOLE_F_STEP_C else "C"

    def _know(self, content: bytes, threshold_c: float, sd_c: float) -> SiteClimate:
        from frostgate.climate.completeness import find_hemisphere
        from frostgate.climate.site import know_site
        from frostgate.climate.uncertain import blur_site
        from frostgate.sources.records import parse_minima

        minima = read_hinted(
            lambda unit: parse_minima(
                content,
                self.record,
                unit=unit,
                station=self.station,
                drop_contradictions=self.drop_contradictions,
            ),
            self.unit,
        )
        know = functools.partial(
            know_site,
            minima,
            start=options.season_start(self.hemisphere) or find_hemisphere(minima),
            kind=self.kind,
            completeness=self.completeness,
            keep_suspects=self.keep_suspects,
            years=self.basis,
        )
        return blur_site(know, threshold_c, sd_c)


def refuse_another_time(coming: Forecast, today: dt.date) -> None:
    """Refuse a forecast for quite another time of the year: it is the wrong file, not a stale one.

    Raises
    ------
    InputError
        Where its nearest night is more than 14 days from today.
    """
    first: dt.date = coming.dates[0].astype(object)
    if first - ANOTHER_TIME > today or coming.through + ANOTHER_TIME < today:
        raise InputError(
            f"a forecast for another time than {today}",
            file=coming.source,
            value=f"{first} to {coming.through}",
            remedy="Give the forecast of the coming nights, or check --on.",
        )


def answer(question: Question, coming: Forecast | None, now: dt.datetime) -> int:
    """Decide, write the answer and return its exit status."""
    policy, site = question.policy(), None
    doubts: tuple[str, ...] = ()
    try:
        site = question.past(policy.station_threshold_c, policy.offset_sd_c)
    except TooFewSeasonsError as error:
        doubts = (_sentence(str(error)),)
    if coming is not None and not question.climate_only:
        refuse_another_time(coming, now.date())
    log, own = OwnLog.named(question.forecast_log, question.observed, question.unit), None
    if log is not None:
        log.update(None if question.climate_only else coming, now.date())
        own = log.learn(policy, site, now.date())
    morning = ask(
        site,
        coming,
        policy if own is None else own.policy,
        now,
        unit=question.unit_shown(site),
        climate_only=question.climate_only,
        doubts=doubts,
    )
    morning = with_reason(morning, own, morning.unit)
    if question.form == "json":
        from frostgate.show.answers import morning_answer

        said = morning_answer(morning) | {"own_errors": own_answer(own)}
        click.echo(json.dumps(said, ensure_ascii=False, indent=2))
    else:
        _write(morning)
    return STATUS[morning.verdict.state]


def _write(morning: Morning) -> None:
    from frostgate.show.morning import morning_lines

    headline, *lines = morning_lines(morning)
    word, rest = headline.split(" ", 1)
    click.echo(f"{click.style(word, fg=COLOUR[morning.verdict.state], bold=True)} {rest}")
    click.echo("\n".join(lines))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
