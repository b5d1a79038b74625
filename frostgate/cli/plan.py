"""The command that plans the season: what is fed when, to which pots, and until when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import click

from frostgate.cli import echo, options
from frostgate.cli.options import shared
from frostgate.feeding.mix import season_shopping
from frostgate.service.request import Request, option
from frostgate.service.season import plan_garden
from frostgate.show.programmes import programme_answer, programme_lines, shopping_answer, shopping_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOptions(Request):
    """The options of the command."""

    garden: Path | None = shared(options.garden_option)
    on: dt.date | None = option("Plan as on the morning of this day, YYYY-MM-DD.")
    climate_only: bool = option("Date the gate by the curve alone, without any forecast.")
    calendar: options.NewFile | None = option("Write or renew a calendar, FILE.ics.")
    shopping: bool = option("Also say what the rest of the season takes of each product.")
    card: options.NewFile | None = option("Write a mixing card for the next day of feeding, FILE.html.")
    replace: bool = shared(options.replace_option)
    form: str = shared(options.format_option("text", "json"))


@click.command()
@options.gathered(PlanOptions)
def plan(given: PlanOptions) -> None:
    """Plan the feedings of the season for every group of pots.

    Dates follow from the gate, from what the journal says was done and seen, from local rules and from the
    forecast; each morning may move them.
    """
    named = options.garden_here(given.garden)
    season, programme, mixed = plan_garden(named, given, options.clock(), options.cache_folder())
    garden, facts = season.garden, season.facts
    written: dict[str, str] = {}
    if given.calendar is not None:
        from frostgate.show.calendar import season_calendar

        told = (programme, garden, season.now.astimezone(), mixed)
        calendar = season_calendar(given.calendar, *told, replace=given.replace)
        options.save_file(given.calendar, calendar, garden=garden.file)
        written["calendar"] = str(given.calendar)
    if given.card is not None:
        from frostgate.show.mixes import card_html, next_feedings

        options.save_file(given.card, card_html(garden, next_feedings(mixed)), garden=garden.file)
        written["card"] = str(given.card)
    shopping = season_shopping(garden, mixed) if given.shopping else None
    if given.form == "json":
        answer = programme_answer(garden, facts, programme, mixed)
        bought = {} if shopping is None else {"shopping": shopping_answer(shopping, garden)}
        options.echo_json(answer | bought | written)
        return
    echo(*programme_lines(named, facts, programme, mixed))
    if shopping is not None:
        echo("", *shopping_lines(shopping, garden))
    for path in written.values():
        echo(f"Written: {path}")
