"""The season's plan and what it takes, as text and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from frostgate.feeding.mix import MixedFeeding, Need, Shopping, taken_g
from frostgate.feeding.season import is_routine
from frostgate.model.feedings import Mix, Programme, SeasonFacts
from frostgate.model.garden import Garden
from frostgate.seasons import as_month_day, say_date, say_day
from frostgate.show.answers import DIGITS, Plain, named, plain
from frostgate.show.mixes import mixes_of, next_feedings, say_mix
from frostgate.show.say import bullets, columns, counted, once, section, wrapped
from frostgate.units import say_mass

STOCK = "Nothing is taken off for what you still have."
_DIGITS = DIGITS | {"grams": 3, "bucket_l": 3, "n_per_pot_g": None}
_SHOPPING_DIGITS = DIGITS | dict.fromkeys(("planned_g", "grams", "pack_g"), 1)


def programme_answer(
    garden: Garden, facts: SeasonFacts, programme: Programme, mixed: Sequence[MixedFeeding]
) -> Plain:
    """Return the programme as plain values under stable names."""
    mixes = mixes_of(mixed)
    answer = {
        "on": facts.today,
        "garden": garden.home.name,
        "gate": programme.gate,
        "gate_open": facts.gate_open,
        "stop": programme.stop,
        "feedings": [_feeding_answer(garden, one) for one in mixed],
        "n_per_pot_g": dict(programme.n_per_pot_g),
        "no_feeding": [
            {"name": rule.name, "from": as_month_day(*rule.first), "to": as_month_day(*rule.last)}
            for rule in garden.no_feeding
        ],
        "notes": all_notes(programme, mixed),
        "warnings": once(mix.warnings for mix in mixes),
        "cautions": once(mix.cautions for mix in mixes),
    }
    return dict(plain(answer, _DIGITS))


def _feeding_answer(garden: Garden, one: MixedFeeding) -> Plain:
    feeding, mix = one.feeding, one.mix
    return {
        **named(feeding, "date", "group", "phase", "number", "kind", "status"),
        "doses": [] if mix is None else _doses(mix),
        "mix": None if mix is None else say_mix(mix, garden.group(feeding.group), garden.units),
        **named(feeding, "not_before_gate", "reason"),
    }


def _doses(mix: Mix) -> Iterator[Plain]:
    """Return each product's mass for all pots, and its spoons for one full bucket or one pot."""
    totals_g = taken_g(mix)
    for dose in mix.buckets[0].doses if mix.buckets else mix.per_pot:
        yield {
            "product": dose.product.name,
            "grams": totals_g[dose.product.name],
            "spoons": dose.spoons,
            "per": "bucket" if mix.buckets else "pot",
            "bucket_l": mix.buckets[0].volume_l if mix.buckets else None,
        }


def all_notes(programme: Programme, mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Return what shaped the programme, and the mixes that must not be made, each refusal once."""
    yield from programme.notes
    refused: dict[str, dict[str, None]] = {}
    for one in mixed:
        if one.refusal is not None:
            refused.setdefault(one.refusal, {})[f"{one.feeding.phase} of {one.feeding.group}"] = None
    for refusal, those in refused.items():
        yield f"Not mixed, {', '.join(those)}: {refusal}"


def programme_lines(
    garden: Garden, facts: SeasonFacts, programme: Programme, mixed: Sequence[MixedFeeding]
) -> Iterator[str]:
    """Write the gate, the stop, the feedings by date, their mixes, what shaped them, and the cautions."""
    opens = "open" if facts.gate_open else "forecast"
    gate = "not known" if facts.gate is None else f"{say_date(facts.gate)} ({opens})"
    stop = "not known" if programme.stop is None else say_date(programme.stop)
    yield f"Feeding at {garden.home.name}, as of {say_date(facts.today)}"
    yield f"  gate: {gate}    last feeding: {stop}"
    yield from section("Feedings", _feedings(mixed))
    yield from section("Mixes", _mixes(garden, mixed))
    yield from section("To mind", bullets(all_notes(programme, mixed)))
    warnings = once(mix.warnings for mix in mixes_of(next_feedings(mixed)))
    yield from section("To mind about the next mixes", bullets(warnings))
    yield from section("Take care", bullets(once(mix.cautions for mix in mixes_of(mixed))))


def _feedings(mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Write a row for each date and feed, its groups joined, below it a reason that tells something."""
    years = {one.feeding.date.year for one in mixed if one.feeding.date is not None}
    say = say_date if len(years) > 1 else say_day
    joined: dict[tuple[str, ...], dict[str, None]] = {}
    for one in mixed:
        feeding = one.feeding
        products = " + ".join(portion.product for portion in feeding.portions)
        is_plain = is_routine(feeding.reason) or feeding.status == "done"
        with_what = (f": {products}" if products else "") + ("" if is_plain else f"\n({feeding.reason})")
        date = "no date" if feeding.date is None else say(feeding.date)
        key = (date, feeding.status, f"{feeding.phase} {feeding.number}", with_what)
        joined.setdefault(key, {})[feeding.group] = None
    rows, before = [("date", "status", "feeding", "for: with")], ""
    for (date, status, what, with_what), groups in joined.items():
        rows.append(("" if date == before else date, status, what, ", ".join(groups) + with_what))
        before = date
    yield from columns(rows) if joined else ()


def _mixes(garden: Garden, mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Write each mix once, by phase and group."""
    by_phase: dict[str, dict[str, str]] = {}
    for one in mixed:
        if one.mix is not None:
            group = garden.group(one.feeding.group)
            by_phase.setdefault(one.feeding.phase, {})[group.name] = say_mix(one.mix, group, garden.units)
    for phase, mixes in by_phase.items():
        yield f"  {phase}"
        for name, said in mixes.items():
            yield from wrapped(f"{name}: {said}", "    ", "        ")


def shopping_answer(shopping: Shopping, garden: Garden) -> Plain:
    """Return what to buy under the names that the JSON answer uses."""
    stated = ("feedings", "planned_g", "grams", "product.pack_g", "packages", "product.price", "cost")
    answer = {
        "needs": [{"product": need.product.name, **named(need, *stated)} for need in shopping.needs],
        "currency": garden.currency or None,
        **named(shopping, "total_cost=cost", "total_is_complete=is_complete"),
        "notes": _shopping_notes(shopping),
    }
    return dict(plain(answer, _SHOPPING_DIGITS, decimals=2))


def shopping_lines(shopping: Shopping, garden: Garden) -> Iterator[str]:
    """Write what to buy, what it costs, and what is not known of it."""
    if not shopping.needs:
        yield "Nothing is left to buy: no feeding with a mix is to come."
    else:
        heads = ("product", "feedings", "planned", "with margin", "packages", "cost")
        yield from ("For the feedings still to come", "")
        yield from columns([heads, *(_need_cells(need, garden) for need in shopping.needs)])
        least = "" if shopping.is_complete else "at least "
        cost = shopping.cost
        total = (
            f"Together {least}{_cost(cost, garden)}." if cost is not None else "What it costs is not known."
        )
        yield from ("", total)
    for note in _shopping_notes(shopping):
        yield from wrapped(note)


def _need_cells(need: Need, garden: Garden) -> tuple[str, ...]:
    packages = "not known"
    if need.packages is not None and need.product.pack_g is not None:
        packages = f"{need.packages} x {say_mass(need.product.pack_g, garden.units)}"
    planned, grams = (say_mass(mass_g, garden.units) for mass_g in (need.planned_g, need.grams))
    return need.product.name, f"{need.feedings}", planned, grams, packages, _cost(need.cost, garden)


def _cost(cost: float | None, garden: Garden) -> str:
    return "not known" if cost is None else f"{cost:.2f} {garden.currency}".rstrip()


def _shopping_notes(shopping: Shopping) -> Iterator[str]:
    if shopping.unmixed:
        has = "has" if shopping.unmixed == 1 else "have"
        feedings = counted(shopping.unmixed, "feeding")
        yield f"{feedings} still to come {has} no mix; what that takes is not in this list."
    for need in shopping.needs:
        if need.lacks:
            lacking = " or ".join(need.lacks)
            yield f"{need.product.name}: no {lacking} in the garden file; add what the shop offers."
    if shopping.needs:
        yield STOCK
