"""The command that plans the season: what is fed when, to which pots, and until when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.options import DATE, NAME, cache_folder, clock, echo_json, garden_option, named_garden
from frostgate.errors import InputError
from frostgate.service.request import Request

if TYPE_CHECKING:
    from frostgate.feeding.shopping import MixedFeeding, Need
    from frostgate.model.feedings import Programme, SeasonFacts
    from frostgate.model.garden import Garden

BY_CURVE = "By the curve alone, the gate's date opens nothing: feed only when frostgate today says open."


@click.command()
@garden_option
@click.option("--on", type=DATE, metavar="DATE", help="Plan as on the morning of this day, YYYY-MM-DD.")
@click.option("--climate-only", is_flag=True, help="Date the gate by the curve alone, without any forecast.")
@click.option("--calendar", type=options.FILE, metavar="FILE", help="Write or renew a calendar, FILE.ics.")
@click.option("--shopping", is_flag=True, help="Also say what the rest of the season takes of each product.")
@click.option("--card", type=options.FILE, metavar="FILE",
              help="Write a mixing card for the next day of feeding, FILE.html.")  # fmt: skip
@options.format_option("text", "json")
def plan(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Plan the feedings of the season for every group of pots.

    Dates follow from the gate, from what the journal says was done and seen, from local rules and from the
    forecast; each morning may move them.
    """
    wish = Wish(**given)
    garden = named_garden(wish.garden)
    if garden is None:
        raise InputError(
            f"no {NAME} in this folder",
            remedy="Name one with --garden FILE, or write a new one with: frostgate init",
        )
    planned = plan_garden(garden, wish.on, climate_only=wish.climate_only)
    written = [f"Written: {path}" for path in _write_files(planned, wish)]
    if wish.form == "json":
        echo_json(_answer(planned, wish))
        return
    from frostgate.show.programmes import programme_lines

    click.echo("\n".join(programme_lines(garden, planned.facts, planned.programme, planned.mixed)))
    if wish.shopping:
        _write_shopping(planned)
    for line in written:
        click.echo(line)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """The options of the command, one field each."""

    garden: Path | None
    on: dt.date | None
    climate_only: bool
    calendar: Path | None
    shopping: bool
    card: Path | None
    form: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A garden's plan with what it was made from."""

    garden: Garden
    now: dt.datetime
    facts: SeasonFacts
    programme: Programme
    mixed: tuple[MixedFeeding, ...]


def plan_garden(garden: Garden, on: dt.date | None, *, climate_only: bool = False) -> Planned:
    """Ask the gate, read the journal, plan the season and mix it.

    Where this morning's verdict is unknown, the curve alone dates the gate, and nothing is due before a
    verdict is.
    """
    from frostgate.feeding.season import plan_season
    from frostgate.feeding.season_verdict import hold
    from frostgate.feeding.shopping import mix_season
    from frostgate.service.season import know_season, under_way
    from frostgate.show.reasons import say_reason

    now, cache, request = clock(), cache_folder(), Request(on=on, climate_only=climate_only)
    season = know_season(garden, request, now, cache)
    facts, notes = season.facts, season.notes
    if season.morning is not None and (climate_only or season.morning.verdict.state == "unknown"):
        if not climate_only:
            notes = (*notes, say_reason(season.morning.verdict.reasons[0], season.unit))
        facts = _by_curve(facts, know_season(garden, replace(request, climate_only=True), now, cache).facts)
        notes = (*notes, *(() if facts.gate_open or facts.gate is None else (BY_CURVE,)))
    programme = plan_season(season.garden, facts)
    if season.morning is not None:
        programme = hold(programme, under_way(season.morning, programme, facts).verdict)
    mixed = mix_season(season.garden, programme.feedings)
    feedings = tuple(one.feeding for one in mixed)
    return Planned(
        garden=season.garden,
        now=season.now,
        facts=facts,
        programme=replace(programme, feedings=feedings, notes=(*notes, *programme.notes)),
        mixed=mixed,
    )


def _by_curve(facts: SeasonFacts, curve: SeasonFacts) -> SeasonFacts:
    """Take the gate's date from the curve; it opens nothing by itself."""
    opened = any(done.kind == "liquid" for done in facts.done)
    return replace(facts, gate=curve.gate, gate_open=opened, first_autumn_frost=curve.first_autumn_frost)


def _write_files(planned: Planned, wish: Wish) -> list[Path]:
    written = []
    if wish.calendar is not None:
        from frostgate.show.calendar import write_calendar

        said = {one.feeding: _say_mix(planned, one) for one in planned.mixed}
        made_at = planned.now.astimezone()
        write_calendar(
            wish.calendar, planned.programme, planned.garden, made_at, doses=lambda f: said.get(f, "")
        )
        written.append(wish.calendar)
    if wish.card is not None:
        _write_card(planned, wish.card)
        written.append(wish.card)
    return written


def _say_mix(planned: Planned, one: MixedFeeding) -> str:
    from frostgate.show.mixes import say_mix

    garden = planned.garden
    return "" if one.mix is None else say_mix(one.mix, garden.group(one.feeding.group), garden.units)


def _write_card(planned: Planned, path: Path) -> None:
    from frostgate.show.cards import card_html
    from frostgate.show.mixes import next_feedings

    garden, coming = planned.garden, next_feedings(planned.mixed)
    items = [(garden.group(one.feeding.group), one.feeding, one.mix) for one in coming if one.mix is not None]
    day = coming[0].feeding.date if coming else None
    if day is None:
        raise InputError("no day of feeding is dated, so there is no card to write", file=path)
    try:
        path.write_text(card_html(garden.home.name, day, items, garden.units), encoding="utf-8")
    except OSError as fault:
        raise InputError(
            "cannot be written",
            file=path,
            value=fault.strerror,
            remedy="Name a file in a folder that can be written to.",
        ) from None


def _answer(planned: Planned, wish: Wish) -> dict[str, Any]:
    from frostgate.show.programmes import programme_answer

    answer = programme_answer(planned.garden, planned.facts, planned.programme, planned.mixed)
    if wish.shopping:
        from frostgate.show.programmes import shopping_answer

        answer["shopping"] = shopping_answer(_needs(planned), planned.garden, unmixed=_unmixed(planned))
    files = {"calendar": wish.calendar, "card": wish.card}
    return answer | {name: str(path) for name, path in files.items() if path is not None}


def _write_shopping(planned: Planned) -> None:
    from frostgate.show.programmes import write_shopping

    click.echo()
    write_shopping(_needs(planned), planned.garden, unmixed=_unmixed(planned))


def _needs(planned: Planned) -> tuple[Need, ...]:
    from frostgate.feeding.shopping import season_needs

    return season_needs(
        planned.garden, [(one.feeding, one.mix) for one in planned.mixed if one.mix is not None]
    )


def _unmixed(planned: Planned) -> int:
    """Count the feedings still to come whose mix must not be made."""
    return sum(1 for one in planned.mixed if one.refusal is not None)
