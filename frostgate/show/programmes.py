"""The season's plan and what it takes, as text and JSON."""

from __future__ import annotations

import datetime as dt
import itertools
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.feeding.shopping import MixedFeeding, Need, Total, total_cost
from frostgate.feeding.succession import is_routine
from frostgate.model.feedings import Feeding, Mix, Programme, SeasonFacts
from frostgate.model.garden import Garden
from frostgate.seasons import say_date, say_day
from frostgate.show.answers import Plain, rounded
from frostgate.show.mixes import all_cautions, all_warnings, next_feedings, say_mix
from frostgate.show.say import WIDTH, bullets, section, wrapped
from frostgate.show.tables import console_of_its_width
from frostgate.units import say_mass

GAP = "  "
HEADS = ("date", "status", "feeding", "for", "with")
NARROWEST = 14
UNDATED = "no date"

_Row = tuple[str, str, str, str, str]


def programme_lines(
    garden: Garden, facts: SeasonFacts, programme: Programme, mixed: Sequence[MixedFeeding]
) -> Iterator[str]:
    r"""Write the gate, the stop, the feedings by date, their mixes, what shaped them, and the cautions."""
    yield f"Feeding at {garden.home.name}, as of {say_date(facts.today)}"
    yield f"  gate: {_say_gate(facts)}    last feeding: {_date_or_not(programme.stop)}"
    yield from section("Feedings", _table(mixed))
    yield from section("Mixes", _mixes(garden, mixed))
    yield from section("To mind", bullets(all_notes(programme, mixed)))
    yield from section("To mind about the next mixes", bullets(all_warnings(next_feedings(mixed))))
    yield from section("Take care", bullets(all_cautions(mixed)))


def programme_answer(
    garden: Garden, facts: SeasonFacts, programme: Programme, mixed: Sequence[MixedFeeding]
) -> Plain:
    """Return the programme as plain values under stable names."""
    return {
        "on": facts.today.isoformat(),
        "garden": garden.home.name,
        "gate": _iso(programme.gate),
        "gate_open": facts.gate_open,
        "stop": _iso(programme.stop),
        "feedings": [_feeding(garden, one) for one in mixed],
        "n_per_pot_g": dict(programme.n_per_pot_g),
        "no_feeding": [
            {"name": rule.name, "from": _month_day(rule.first), "to": _month_day(rule.last)}
            for rule in garden.no_feeding
        ],
        "notes": list(all_notes(programme, mixed)),
        "warnings": list(all_warnings(mixed)),
        "cautions": list(all_cautions(mixed)),
    }


def all_notes(programme: Programme, mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Return what shaped the programme, and the mixes that must not be made."""
    yield from programme.notes
    for refusal, those in _by_refusal(mixed):
        yield f"Not mixed, {', '.join(those)}: {refusal}"


def _by_refusal(mixed: Sequence[MixedFeeding]) -> Iterator[tuple[str, list[str]]]:
    refused: dict[str, list[str]] = {}
    for one in mixed:
        if one.refusal is not None:
            those = refused.setdefault(one.refusal, [])
            what = f"{one.feeding.phase} of {one.feeding.group}"
            if what not in those:
                those.append(what)
    yield from refused.items()


def _say_gate(facts: SeasonFacts) -> str:
    if facts.gate is None:
        return "not known"
    return f"{say_date(facts.gate)} ({'open' if facts.gate_open else 'forecast'})"


def _date_or_not(date: dt.date | None) -> str:
    return "not known" if date is None else say_date(date)


def _table(mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Lay out a row for each date and feed, its groups joined, a reason that tells something below it."""
    rows = list(_rows(mixed))
    if not rows:
        return
    widths = _widths([row for row, _ in rows])
    yield _line(HEADS, widths)
    before = ""
    for row, reason in rows:
        date, *rest = row
        yield from _cells(("" if date == before else date, *rest), widths)
        before = date
        if reason:
            indent = " " * (widths[0] + widths[1] + 3 * len(GAP))
            yield from wrapped(f"({reason})", indent, f"{indent} ")


def _rows(mixed: Sequence[MixedFeeding]) -> Iterator[tuple[_Row, str]]:
    years = {one.feeding.date.year for one in mixed if one.feeding.date is not None}
    joined: dict[tuple[str, ...], list[str]] = {}
    for one in mixed:
        feeding = one.feeding
        key = (
            _say_when(feeding, years),
            feeding.status,
            f"{feeding.phase} {feeding.number}",
            " + ".join(portion.product for portion in feeding.portions),
            _worth_saying(one),
        )
        joined.setdefault(key, []).append(feeding.group)
    for (date, status, what, products, reason), groups in joined.items():
        yield (date, status, what, ", ".join(dict.fromkeys(groups)), products), reason


def _mixes(garden: Garden, mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Write each mix once, by phase and group."""
    by_phase: dict[str, dict[str, str]] = {}
    for one in mixed:
        if one.mix is not None:
            group = garden.group(one.feeding.group)
            said = say_mix(one.mix, group, garden.units)
            by_phase.setdefault(one.feeding.phase, {})[group.name] = said
    for phase, mixes in by_phase.items():
        yield f"{GAP}{phase}"
        for name, said in mixes.items():
            yield from wrapped(f"{name}: {said}", 2 * GAP, 4 * GAP)


def _say_when(feeding: Feeding, years: set[int]) -> str:
    if feeding.date is None:
        return UNDATED
    return say_date(feeding.date) if len(years) > 1 else say_day(feeding.date)


def _worth_saying(one: MixedFeeding) -> str:
    """Return the reason, where it tells more than the phase's interval or that the feeding was logged."""
    reason = one.feeding.reason
    return "" if is_routine(reason) or one.feeding.status == "done" else reason


def _widths(rows: Sequence[_Row]) -> tuple[int, ...]:
    """Return each column what it needs, the last two what is left of the screen."""
    *first, groups, _ = (max(len(cell) for cell in column) for column in zip(HEADS, *rows, strict=True))
    left = WIDTH - sum(first) - len(HEADS) * len(GAP)
    groups = min(groups, max(left - NARROWEST, NARROWEST))
    return (*first, groups, max(left - groups, NARROWEST))


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    padded = (cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
    return (GAP + GAP.join(padded)).rstrip()


def _cells(row: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    columns = [textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
    for parts in itertools.zip_longest(*columns, fillvalue=""):
        yield _line(parts, widths)


def _feeding(garden: Garden, one: MixedFeeding) -> Plain:
    feeding = one.feeding
    mix = None if one.mix is None else say_mix(one.mix, garden.group(feeding.group), garden.units)
    return {
        "date": _iso(feeding.date),
        "group": feeding.group,
        "phase": feeding.phase,
        "number": feeding.number,
        "kind": feeding.kind,
        "status": feeding.status,
        "doses": [] if one.mix is None else list(_doses(one.mix)),
        "mix": mix,
        "not_before_gate": feeding.not_before_gate,
        "reason": feeding.reason,
    }


def _doses(mix: Mix) -> Iterator[Plain]:
    """Return each product's mass for all pots, and its spoons for one full bucket or one pot."""
    totals_g: Counter[str] = Counter()
    for bucket in mix.buckets:
        totals_g.update({dose.product.name: dose.grams for dose in bucket.doses})
    for dose in mix.buckets[0].doses if mix.buckets else mix.per_pot:
        name = dose.product.name
        yield {
            "product": name,
            "grams": round(totals_g[name] if mix.buckets else dose.grams * mix.pots, 3),
            "spoons": dose.spoons,
            "per": "bucket" if mix.buckets else "pot",
            "bucket_l": round(mix.buckets[0].volume_l, 3) if mix.buckets else None,
        }


def _iso(date: dt.date | None) -> str | None:
    return None if date is None else date.isoformat()


def _month_day(month_day: tuple[int, int]) -> str:
    return f"{month_day[0]:02d}-{month_day[1]:02d}"


STOCK = "Nothing is taken off for what you still have."


def write_shopping(
    needs: Sequence[Need], garden: Garden, console: Console | None = None, *, unmixed: int = 0
) -> None:
    """Write what to buy, what it costs, and what is not known of it."""
    screen = console or console_of_its_width()
    if not needs:
        screen.print(Text("Nothing is left to buy: no feeding with a mix is to come."))
    else:
        _write_needs(needs, garden, screen)
    for note in _notes(needs, unmixed):
        screen.print(Text(note))


def shopping_answer(needs: Sequence[Need], garden: Garden, *, unmixed: int = 0) -> Plain:
    """Return the same under the names that the JSON answer uses."""
    total = total_cost(needs)
    return {
        "needs": [_need_answer(need) for need in needs],
        "currency": garden.currency or None,
        "total_cost": rounded(total.cost, 2),
        "total_is_complete": total.complete,
        "notes": list(_notes(needs, unmixed)),
    }


def _write_needs(needs: Sequence[Need], garden: Garden, screen: Console) -> None:
    screen.print(Text("For the feedings still to come", style="bold"))
    screen.print()
    screen.print(_table_shopping(needs, garden))
    screen.print()
    screen.print(Text(_say_total(total_cost(needs), garden.currency)))


def _need_answer(need: Need) -> Plain:
    return {
        "product": need.product.name,
        "feedings": need.feedings,
        "planned_g": rounded(need.planned_g, 1),
        "grams": rounded(need.grams, 1),
        "pack_g": rounded(need.product.pack_g, 1),
        "packages": need.packages,
        "price": rounded(need.product.price, 2),
        "cost": rounded(need.cost, 2),
    }


def _table_shopping(needs: Sequence[Need], garden: Garden) -> Table:
    shown = Table(box=None, padding=(0, 2, 0, 0))
    shown.add_column("product", overflow="fold")
    for name in ("feedings", "planned", "with margin", "packages", "cost"):
        shown.add_column(name, justify="right")
    for need in needs:
        grams = [say_mass(mass_g, garden.units) for mass_g in (need.planned_g, need.grams)]
        cost = "not known" if need.cost is None else _say_cost(need.cost, garden.currency)
        cells = (need.product.name, f"{need.feedings}", *grams, _say_packages(need, garden), cost)
        shown.add_row(*map(Text, cells))
    return shown


def _say_packages(need: Need, garden: Garden) -> str:
    if need.packages is None or need.product.pack_g is None:
        return "not known"
    return f"{need.packages} x {say_mass(need.product.pack_g, garden.units)}"


def _say_cost(cost: float, currency: str) -> str:
    return f"{cost:.2f} {currency}".rstrip()


def _say_total(total: Total, currency: str) -> str:
    if total.cost is None:
        return "What it costs is not known."
    return f"Together {'' if total.complete else 'at least '}{_say_cost(total.cost, currency)}."


def _notes(needs: Sequence[Need], unmixed: int) -> Iterator[str]:
    if unmixed:
        what = "1 feeding still to come has" if unmixed == 1 else f"{unmixed} feedings still to come have"
        yield f"{what} no mix; what that takes is not in this list."
    for need in needs:
        if need.lacks:
            lacking = " or ".join(need.lacks)
            yield f"{need.product.name}: no {lacking} in the garden file; add what the shop offers."
    if needs:
        yield STOCK
