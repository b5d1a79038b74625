"""What to mix, as text and JSON."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from frostgate.feeding.mix import Stock
from frostgate.feeding.scoops import is_weighed
from frostgate.feeding.shopping import MixedFeeding
from frostgate.model.feedings import Bucket, Dose, Mix
from frostgate.model.garden import PotGroup
from frostgate.model.products import Element
from frostgate.show.say import bullets, section
from frostgate.units import Units, say_mass, say_volume

Plain = dict[str, Any]

_GRAMS_FROM_MG = 10_000.0
_NOTABLE = 0.005  # a rounding below this is not told


def mix_answer(mix: Mix) -> Plain:
    """Return a mix under the names that the JSON answer uses."""
    return {
        "kind": "liquid" if mix.buckets else "top-dressing",
        "pots": mix.pots,
        "buckets": [
            {
                "volume_l": round(bucket.volume_l, 6),
                "pots": bucket.pots,
                "doses": [_dose_answer(dose) for dose in bucket.doses],
            }
            for bucket in mix.buckets
        ],
        "per_pot": [_dose_answer(dose) for dose in mix.per_pot],
        "ppm": _rounded(mix.ppm),
        "per_pot_mg": _rounded(mix.per_pot_mg),
        "ec_ms_cm": None if mix.ec_ms_cm is None else round(mix.ec_ms_cm, 4),
        "warnings": list(mix.warnings),
        "cautions": list(mix.cautions),
    }


def stock_answer(stock: Stock) -> Plain:
    """Return a stock solution under the names that the JSON answer uses."""
    return {
        **mix_answer(stock.mix),
        "injector": {
            "ratio": stock.ratio,
            "stock_l": round(stock.stock_l, 6),
            "feed_l": round(stock.feed_l, 6),
            "grams_per_litre": {product.name: round(g_l, 6) for product, g_l in stock.grams_l.items()},
        },
    }


def mix_lines(mix: Mix, group: PotGroup | None, units: Units, phase: str | None = None) -> Iterator[str]:
    """Write a mix: the doses first, then what they give, then what to mind."""
    if group is not None:
        yield _title(group, phase, units, poured=bool(mix.buckets))
        yield ""
    noun = "pot" if group is None or group.in_pots else "tree"
    doses = [*mix.per_pot, *itertools.chain.from_iterable(bucket.doses for bucket in mix.buckets)]
    columns = _widths(doses)
    largest_l = max((bucket.volume_l for bucket in mix.buckets), default=0.0)
    for bucket, alike in itertools.groupby(mix.buckets):
        what = "bucket" if bucket.volume_l == largest_l else "part bucket"
        yield _bucket_line(bucket, what, len(list(alike)), noun, units)
        yield from _dose_lines(bucket.doses, columns, units)
    if not mix.buckets:
        yield f"Each {noun} of {mix.pots}:" if group is not None else f"Each of {mix.pots}:"
        yield from _dose_lines(mix.per_pot, columns, units)
    yield from section("What it gives", _giving(mix, noun))
    yield from section("Mind", bullets(mix.warnings))


def stock_lines(
    stock: Stock, group: PotGroup | None, units: Units, phase: str | None = None
) -> Iterator[str]:
    """Write a stock solution as `mix_lines` writes a mix."""
    if group is not None:
        yield _title(group, phase, units, poured=True)
        yield ""
    volume, feed = say_volume(stock.stock_l, units), say_volume(stock.feed_l, units)
    yield f"Stock for an injector of 1:{stock.ratio:g}, a tank of {volume}, which makes {feed} of feed:"
    doses = stock.mix.buckets[0].doses
    yield from _dose_lines(doses, _widths(doses), units)
    per_litre = [f"{product.name} {g_l:.1f} g" for product, g_l in stock.grams_l.items()]
    if per_litre:
        yield f"  in a litre of stock: {', '.join(per_litre)}"
    yield from section("What the hose gives", _giving(stock.mix, "pot"))
    yield from section("Mind", bullets(stock.mix.warnings))


def caution_lines(mixes: Sequence[Mix]) -> Iterator[str]:
    """Write the usual cautions of some mixes, each once."""
    every = dict.fromkeys(caution for mix in mixes for caution in mix.cautions)
    yield from section("Take care", bullets(every))


def _title(group: PotGroup, phase: str | None, units: Units, *, poured: bool) -> str:
    trees = f"{group.count} {'pot' if group.in_pots else 'tree'}{'' if group.count == 1 else 's'}"
    each = f", {say_volume(group.per_pot_l, units)} each" if group.per_pot_l and poured else ""
    told = f"{trees}, {group.stage}{each}"
    return f"{group.name.upper()}: {told}{f'; {phase}' if phase else ''}"


def _bucket_line(bucket: Bucket, what: str, count: int, noun: str, units: Units) -> str:
    plural, each = ("s", " each") if count > 1 else ("", "")
    line = f"{count} {what}{plural}, {say_volume(bucket.volume_l, units)}{each}"
    if bucket.pots:
        line += f", for {bucket.pots} {noun}{'' if bucket.pots == 1 else 's'}{each}"
    return f"{line}:"


def _dose_lines(doses: Sequence[Dose], columns: tuple[int, int], units: Units) -> Iterator[str]:
    wide, named = columns
    for dose in doses:
        mass = "" if is_weighed(dose) else say_mass(dose.grams, units)
        if dose.product.form == "liquid":
            mass = f"{dose.millilitres:.3g} mL, {mass}"
        told = ", ".join(part for part in (mass, *_marks(dose)) if part)
        yield f"    {dose.spoons:<{wide}}  {dose.product.name:<{named}}  {told}".rstrip()


def _marks(dose: Dose) -> Iterator[str]:
    if abs(dose.rounding) >= _NOTABLE:
        yield f"{dose.rounding * 100:+.0f} % by rounding"
    if dose.product.density_from == "default" and not is_weighed(dose):
        yield "default density"


def _widths(doses: Sequence[Dose]) -> tuple[int, int]:
    return (
        max((len(dose.spoons) for dose in doses), default=0),
        max((len(dose.product.name) for dose in doses), default=0),
    )


def _giving(mix: Mix, noun: str) -> Iterator[str]:
    if mix.ppm:
        ec = "" if mix.ec_ms_cm is None else f"    EC about {mix.ec_ms_cm:.2f} mS/cm"
        yield f"    solution  {_elements(mix.ppm, 'ppm')}{ec}"
    if mix.per_pot_mg:
        yield f"    one {noun:<5} {_elements(mix.per_pot_mg, 'mg')}"


def _elements(amounts: Mapping[Element, float], unit: str) -> str:
    held = {element: amount for element, amount in amounts.items() if amount > 0.0}
    if not held:
        return f"none of {', '.join(amounts)}"
    if unit == "mg" and max(held.values()) >= _GRAMS_FROM_MG:
        return _elements({element: amount / 1000.0 for element, amount in held.items()}, "g")
    return "  ".join(f"{element} {_figure(amount)}" for element, amount in held.items()) + f" {unit}"


def _figure(amount: float) -> str:
    return f"{amount:.0f}" if amount >= 10.0 else f"{amount:.2g}"


def _dose_answer(dose: Dose) -> Plain:
    return {
        "product": dose.product.name,
        "grams": round(dose.grams, 6),
        "millilitres": round(dose.millilitres, 6),
        "spoons": dose.spoons,
        "wanted_g": round(dose.wanted_g, 6),
        "rounding": round(dose.rounding, 6),
        "density_from": dose.product.density_from,
    }


def _rounded(amounts: Mapping[Element, float]) -> dict[str, float]:
    return {element: round(amount, 4) for element, amount in amounts.items()}


def all_warnings(mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Return what to mind about the mixes, each once."""
    yield from dict.fromkeys(warning for one in mixed if one.mix for warning in one.mix.warnings)


def all_cautions(mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Return the usual cautions of all mixes, each once."""
    yield from dict.fromkeys(caution for one in mixed if one.mix for caution in one.mix.cautions)


def next_feedings(mixed: Sequence[MixedFeeding]) -> tuple[MixedFeeding, ...]:
    """Return what is mixed on the first day on which something is."""
    dated = [one for one in mixed if one.mix is not None and one.feeding.date is not None]
    return tuple(one for one in dated if one.feeding.date == dated[0].feeding.date)


def say_mix(mix: Mix, group: PotGroup, units: Units) -> str:
    """Write what goes into each bucket, or on each pot."""
    if not mix.buckets:
        return f"on each of {_count(mix.pots, group)}: {_say_doses(mix.per_pot, units)}"
    return "; ".join(
        _say_bucket(bucket, len(list(alike)), group, units)
        for bucket, alike in itertools.groupby(mix.buckets)
    )


def _say_bucket(bucket: Bucket, count: int, group: PotGroup, units: Units) -> str:
    times, each = (f"{count} x ", " each") if count > 1 else ("", "")
    volume = say_volume(bucket.volume_l, units)
    return f"{times}{volume} for {_count(bucket.pots, group)}{each}: {_say_doses(bucket.doses, units)}"


def _say_doses(doses: Sequence[Dose], units: Units) -> str:
    return " + ".join(f"{dose.spoons}{_say_grams(dose, units)} {dose.product.name}" for dose in doses)


def _say_grams(dose: Dose, units: Units) -> str:
    """Write the mass in grams, unless the measure is one already."""
    return "" if "scale" in dose.spoons else f" ({say_mass(dose.grams, units).partition(' (')[0]})"


def _count(pots: int, group: PotGroup) -> str:
    return f"{pots} {'pot' if group.in_pots else 'tree'}{'' if pots == 1 else 's'}"
