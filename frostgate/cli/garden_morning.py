"""The morning in a garden: the verdict, what is due, what a frost can hurt, and what is written down."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli.own_log import own_answer
from frostgate.cli.season import Season, know_season, planned
from frostgate.cli.today_wish import STATUS, Wish, coloured
from frostgate.errors import FrostgateError, InputError
from frostgate.feeding.mixed import MixedFeeding, mix_season
from frostgate.feeding.protection import tissue_of, warn_of_frost
from frostgate.garden.journal import Journal, journal_file
from frostgate.garden.rows import new_entry
from frostgate.gate.morning import Morning
from frostgate.show.garden_morning import GardenMorning, garden_lines
from frostgate.terms.feedings import Programme
from frostgate.terms.garden import Garden
from frostgate.terms.journal import Entry
from frostgate.values import replace

if TYPE_CHECKING:
    from frostgate.terms import Forecast, Night


def answer_in(garden: Garden, wish: Wish) -> int:
    """Answer for a garden, write the morning into its journal, and return the exit status.

    A morning asked about with ``--on`` is not written down.

    Raises
    ------
    InputError
        Where the site names no record, or the command names a log of its own.
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
    """Tell whether the last entry of its kind today says the same."""
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
        "reasons": list(verdict.reasons),
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
        from frostgate.show.garden_morning import garden_answer

        said = morning_answer(shown.morning) | {"own_errors": own_answer(season.own)} | garden_answer(shown)
        click.echo(json.dumps(said, ensure_ascii=False, indent=2))
        return
    state = shown.morning.verdict.state
    for line in garden_lines(shown, full=wish.full):
        if line.startswith(state.upper() + " "):
            click.echo(coloured(line, state))
        else:
            click.echo(click.style(line, bold=True) if line.startswith(("FROST ", "WATCH ")) else line)
