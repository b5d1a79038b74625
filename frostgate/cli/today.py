"""The morning's command: is it safe to feed yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.options import (
    DATE,
    OFFSET,
    SHARE,
    SPREAD,
    TEMPERATURE,
    echo_json,
    garden_option,
    moment,
    named_garden,
)
from frostgate.errors import FrostgateError, InputError
from frostgate.feeding.protection import tissue_of, warn_of_frost
from frostgate.feeding.shopping import MixedFeeding, mix_season
from frostgate.garden.journal import Journal, journal_file, new_entry
from frostgate.gate.verdict import Morning
from frostgate.model.feedings import Programme
from frostgate.model.garden import Entry, Garden
from frostgate.model.records import BasisOption, Completeness
from frostgate.service.own_log import OwnLog, own_answer, with_reason
from frostgate.service.request import Stated, ask_site
from frostgate.service.season import Season, know_season, planned
from frostgate.show.morning import GardenMorning, garden_lines
from frostgate.show.reasons import say_reasons

if TYPE_CHECKING:
    from frostgate.model.gate import Forecast, Night

STATUS = {"open": 0, "shut": 1, "unknown": 3}
COLOUR = {"open": "green", "shut": "red", "unknown": "yellow"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(Stated):
    """The options of `frostgate today`, one field each, beside those that a garden can state."""

    garden: Path | None
    on: dt.date | None
    climate_only: bool
    forecast_log: Path | None
    observed: Path | None
    full: bool
    kind: str
    basis: BasisOption
    completeness: Completeness
    keep_suspects: bool
    drop_contradictions: bool
    form: str

    def asked(self) -> dict[str, Any]:
        """Return what only the command states, by the fields of `Question`."""
        names = "on climate_only kind basis completeness keep_suspects drop_contradictions"
        return {name: getattr(self, name) for name in names.split()}


def coloured(headline: str, state: str) -> str:
    """Colour the first word of a headline by the verdict."""
    word, rest = headline.split(" ", 1)
    return f"{click.style(word, fg=COLOUR[state], bold=True)} {rest}"


def answer_in(garden: Garden, wish: Wish) -> int:
    """Answer for a garden, write the morning into its journal, and return the exit status.

    A morning asked about with ``--on`` is not written down.
    """
    if wish.forecast_log or wish.observed:
        raise InputError(
            "a garden keeps its forecasts and minima in its journal",
            value="--forecast-log" if wish.forecast_log else "--observed",
            remedy="Leave the option out, and log minima with: frostgate log minimum 29F.",
        )
    season = know_season(garden, wish.on, wish, **{k: v for k, v in wish.asked().items() if k != "on"})
    programme, morning = planned(season)
    if morning is None:
        raise InputError(
            "the garden names no station record",
            file=garden.file,
            remedy='Add record = "FILE" or station = "ID" to its [[site]], or name one with --record.',
        )
    shown = look_over(season, programme, morning)
    if wish.on is None and (unwritten := _write_down(season, morning)):
        shown = replace(shown, notes=(unwritten, *shown.notes))
    _say(shown, season, wish)
    return STATUS[morning.verdict.state]


def look_over(season: Season, programme: Programme, morning: Morning) -> GardenMorning:
    """Lay out what the morning shows: pure, from the season, its programme and the answer."""
    garden = season.garden
    nights = morning.outlook.nights if morning.outlook else ()
    tissues = [
        (group, tissue_of(group, season.facts, grown=season.grown, leaves_off=season.leaves_off))
        for group in garden.groups
    ]
    due = mix_season(garden, (feeding for feeding in programme.feedings if feeding.status == "due"))
    return GardenMorning(
        morning=morning,
        warnings=warn_of_frost(nights, tissues, morning.policy),
        due=due,
        coming=tuple(one for one in programme.feedings if one.status in {"planned", "waiting", "held"}),
        to_log=tuple(_to_log(due, garden)),
        notes=(*season.notes, *_unlogged(season, nights)),
        plan_notes=programme.notes,
        unit=season.unit,
        units=garden.units,
        fed=any(done.kind == "liquid" for done in season.facts.done),
    )


def _unlogged(season: Season, nights: Sequence[Night]) -> Iterator[str]:
    """Tell that trees are taken to be dormant for want of an entry, where a frost could hurt moving buds."""
    facts = season.facts
    silent = not (facts.bud_break or season.grown or facts.gate_open)
    if silent and any(night.chance >= 0.5 for night in nights):
        yield (
            "No bud break is logged this year, so the trees are taken to be dormant. Once buds move, log it: "
            "frostgate log bud-break --group NAME."
        )


def _to_log(due: Sequence[MixedFeeding], garden: Garden) -> Iterator[str]:
    if any(one.mix is not None for one in due):
        yield "frostgate log due           (all that is due, as mixed above; --group NAME for one group)"
    example = "29F" if garden.units == "us" else "-1.5C"
    yield f"frostgate log minimum {example:<5} (what the thermometer among the pots showed)"


def _write_down(season: Season, morning: Morning) -> str | None:
    """Write the forecast and the verdict into the journal; a journal that cannot be written is told of."""
    try:
        with Journal.open(journal_file(season.garden.file)) as journal:
            written = journal.entries(kinds=("forecast", "verdict"), since=season.now.date())
            new = [entry for entry in _entries_of(season, morning) if not _stands(entry, written)]
            if new:
                journal.add(*new)
    except FrostgateError as fault:
        return f"This morning is not in the journal: {fault}"
    return None


def _stands(entry: Entry, written: tuple[Entry, ...]) -> bool:
    """Return whether the last entry of its kind today says the same."""
    same = [one for one in written if one.kind == entry.kind and one.on == entry.on]
    return bool(same) and same[-1].body == entry.body


def _entries_of(season: Season, morning: Morning) -> Iterator[Entry]:
    made_at = season.now.replace(microsecond=0)
    if morning.forecast is not None:
        yield new_entry("forecast", made_at=made_at, body=_forecast(morning.forecast))
    verdict, policy = morning.verdict, morning.policy
    body = {
        "state": verdict.state,
        "risk_today": None if verdict.risk_today is None else round(verdict.risk_today, 6),
        "earliest_date": verdict.earliest_date.isoformat() if verdict.earliest_date else None,
        "risk_tolerance": verdict.risk_tolerance,
        "reasons": say_reasons(verdict.reasons, season.unit),
        "inputs": {
            "damage_temp_c": policy.damage_temp_c,
            "offset_c": policy.offset_c,
            "offset_sd_c": policy.offset_sd_c,
            "error_bias_c": policy.error_bias_c,
            "record_ends": morning.site.last_day.isoformat() if morning.site else None,
            "forecast_issued_at": morning.forecast.issued_at.isoformat() if morning.forecast else None,
        },
    }
    yield new_entry("verdict", made_at=made_at, body=body)


def _forecast(forecast: Forecast) -> dict[str, Any]:
    nights = zip(forecast.dates.tolist(), forecast.tmin_c.tolist(), forecast.sd_c.tolist(), strict=True)
    return {
        "source": forecast.source,
        "issued_at": forecast.issued_at.isoformat(),
        "nights": [
            {"morning": day.isoformat(), "tmin_c": tmin_c, "sd_c": None if sd_c != sd_c else sd_c}  # noqa: PLR0124  # NaN
            for day, tmin_c, sd_c in nights
            if tmin_c == tmin_c  # noqa: PLR0124  # NaN
        ],
    }


def _say(shown: GardenMorning, season: Season, wish: Wish) -> None:
    if wish.form == "json":
        from frostgate.show.answers import morning_answer
        from frostgate.show.morning import garden_answer

        said = (
            morning_answer(shown.morning, shown.unit)
            | {"own_errors": own_answer(season.own)}
            | garden_answer(shown)
        )
        echo_json(said)
        return
    state = shown.morning.verdict.state
    for line in garden_lines(shown, full=wish.full):
        if line.startswith(state.upper() + " "):
            click.echo(coloured(line, state))
        else:
            click.echo(click.style(line, bold=True) if line.startswith(("FROST ", "WATCH ")) else line)


@click.command(epilog="Exit status: 0 open, 1 shut, 3 unknown, 2 an error.")
@garden_option
@click.option(
    "--record", type=options.FILE, help="The station's record of daily minima.  [default: the garden's]"
)
@click.option("--forecast", type=options.FILE, help="The forecast; without one the verdict is unknown.")
@click.option("--on", type=DATE, metavar="DATE", help="Answer as on the morning of this day, YYYY-MM-DD.")
@click.option("--risk", type=SHARE, help="The risk you can live with.  [default: the garden's, or 10%]")
@click.option(
    "--damage-temp",
    type=TEMPERATURE,
    help="A minimum at or below this in the garden kills the flush.  [default: the garden's, or 32F]",
)
@click.option("--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder.")
@click.option(
    "--offset-spread", type=SPREAD, help="How sure --offset is: its spread on a single frost night."
)
@click.option("--forecast-offset", type=OFFSET, help="Garden less forecast, where it is not as --offset.")
@click.option("--exposed-from", type=click.IntRange(0, 7),
              help="Days from feeding to the first minimum that can do harm.  [default: 1]")  # fmt: skip
@click.option("--max-age", type=click.FloatRange(min=0, min_open=True),
              help="Hours after which a forecast is too old to trust.  [default: 48]")  # fmt: skip
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
@click.option("--offline", is_flag=True, help="In a garden: use what is kept and ask nobody.")
@click.option("--full", is_flag=True, help="In a garden: also what the answer rests on.")
@options.record_options
@options.kind_option
@options.basis_option
@options.completeness_option
@options.show_option
@options.format_option("text", "json")
def today(**given: Any) -> int:  # noqa: ANN401  # click hands the options over by name
    """Say whether it is safe to feed yet.

    Joins the station's past with the forecast and answers open, shut or unknown, with the reasons, the
    earliest date for the risk you accept, and what would change it. In a garden (a garden.toml here, or
    --garden) it also says which pots are due, what is at risk tonight, and what to log.
    """
    wish = Wish(**given)
    garden = None if wish.record and not _names_garden() else named_garden(wish.garden)
    if garden is None:
        return answer(wish)

    return answer_in(garden, wish)


def _names_garden() -> bool:
    """Return whether a garden file was named, and not only found in this folder."""
    source = click.get_current_context().get_parameter_source("garden")
    return source is click.core.ParameterSource.COMMANDLINE


def answer(wish: Wish) -> int:
    """Decide by the files named, write the answer and return its exit status."""
    question = wish.ask(None, **wish.asked())
    coming = question.coming()
    now = moment(wish.on, question.time_zone or (coming.time_zone if coming else None))
    log = OwnLog.named(wish.forecast_log, wish.observed, wish.unit)
    if log is not None:
        question.refuse_another_time(coming, now.date())
        log.update(None if wish.climate_only else coming, now.date())
    morning, own = ask_site(question, coming, now, None if log is None else log.learn)
    morning = with_reason(morning, own)
    unit = question.unit_shown(morning.site)
    if wish.form == "json":
        from frostgate.show.answers import morning_answer

        said = morning_answer(morning, unit) | {"own_errors": own_answer(own)}
        echo_json(said)
    else:
        from frostgate.show.morning import morning_lines

        headline, *lines = morning_lines(morning, unit)
        click.echo(coloured(headline, morning.verdict.state))
        click.echo("\n".join(lines))
    return STATUS[morning.verdict.state]
