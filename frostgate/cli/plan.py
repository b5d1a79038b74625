"""The command that plans the season: what is fed when, to which pots, and until when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import click

from frostgate.cli import options as shared
from frostgate.cli.options import FILE, NAME, cache_folder, clock, echo_json, named_garden
from frostgate.errors import InputError
from frostgate.feeding.shopping import season_shopping
from frostgate.service.plan import plan_garden
from frostgate.service.request import Request
from frostgate.show.programmes import programme_answer, programme_lines, shopping_answer, write_shopping


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOptions:
    """The options of the command, one field each."""

    garden: Path | None
    on: dt.date | None
    climate_only: bool
    calendar: Path | None
    shopping: bool
    card: Path | None
    form: str


@click.command()
@shared.garden_option
@click.option(
    "--on", type=shared.DATE, metavar="DATE", help="Plan as on the morning of this day, YYYY-MM-DD."
)
@click.option("--climate-only", is_flag=True, help="Date the gate by the curve alone, without any forecast.")
@click.option("--calendar", type=FILE, metavar="FILE", help="Write or renew a calendar, FILE.ics.")
@click.option("--shopping", is_flag=True, help="Also say what the rest of the season takes of each product.")
@click.option(
    "--card", type=FILE, metavar="FILE", help="Write a mixing card for the next day of feeding, FILE.html."
)
@shared.format_option("text", "json")
@shared.gathered(PlanOptions)
def plan(options: PlanOptions) -> None:
    """Plan the feedings of the season for every group of pots.

    Dates follow from the gate, from what the journal says was done and seen, from local rules and from the
    forecast; each morning may move them.
    """
    garden = named_garden(options.garden)
    if garden is None:
        raise InputError(
            f"no {NAME} in this folder",
            remedy="Name one with --garden FILE, or write a new one with: frostgate init",
        )
    request = Request(on=options.on, climate_only=options.climate_only)
    made = plan_garden(garden, request, clock(), cache_folder())
    written: dict[str, str] = {}
    if options.calendar is not None:
        from frostgate.show.calendar import write_calendar

        write_calendar(options.calendar, made.programme, made.garden, made.now.astimezone(), made.mixed)
        written["calendar"] = str(options.calendar)
    if options.card is not None:
        from frostgate.show.cards import write_card

        write_card(options.card, made.garden, made.mixed)
        written["card"] = str(options.card)
    shopping = season_shopping(made.garden, made.mixed) if options.shopping else None
    if options.form == "json":
        answer = programme_answer(made.garden, made.facts, made.programme, made.mixed)
        bought = {} if shopping is None else {"shopping": shopping_answer(shopping, made.garden)}
        echo_json(answer | bought | written)
        return
    click.echo("\n".join(programme_lines(garden, made.facts, made.programme, made.mixed)))
    if shopping is not None:
        click.echo()
        write_shopping(shopping, made.garden)
    for path in written.values():
        click.echo(f"Written: {path}")
