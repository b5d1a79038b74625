"""What to mix, as text and JSON."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from frostgate.feeding.mix import GroupMix
from frostgate.feeding.scoops import is_weighed
from frostgate.feeding.shopping import MixedFeeding
from frostgate.model.feedings import Bucket, Dose, Mix
from frostgate.model.garden import PotGroup
from frostgate.model.products import Element
from frostgate.show.answers import DIGITS, Plain, named, plain
from frostgate.show.say import bullets, once, section
from frostgate.units import Units, say_mass, say_volume

_SIX = ("volume_l", "stock_l", "feed_l", "grams_per_litre", "grams", "millilitres", "wanted_g", "rounding")
_DIGITS = DIGITS | dict.fromkeys(_SIX, 6) | {"ratio": None}
_GRAMS_FROM_MG = 10_000.0
_NOTABLE = 0.005  # a rounding below this is not told


def mixes_answer(mixes: Sequence[GroupMix]) -> Plain:
    """Return one mix as it is; of several groups each in ``mixes``, and what all share beside them."""
    answers = [_answer(one) for one in mixes]
    if len(answers) == 1:
        return answers[0]
    return {
        "mixes": answers,
        "buckets": [{"group": each["group"], **bucket} for each in answers for bucket in each["buckets"]],
        "warnings": once(one.mix.warnings for one in mixes),
        "cautions": once(one.mix.cautions for one in mixes),
    }


def _answer(made: GroupMix) -> Plain:
    mix = made.mix
    answer = {
        "group": made.group and made.group.name,
        "phase": made.phase,
        "kind": "liquid" if mix.buckets else "top-dressing",
        "pots": mix.pots,
        "buckets": [
            {**named(bucket, "volume_l", "pots"), "doses": map(_dose_answer, bucket.doses)}
            for bucket in mix.buckets
        ],
        "per_pot": map(_dose_answer, mix.per_pot),
        **named(mix, "ppm", "per_pot_mg", "ec_ms_cm", "warnings", "cautions"),
    }
    if made.ratio is not None:
        [tank] = mix.buckets
        answer["injector"] = {
            "ratio": made.ratio,
            "stock_l": tank.volume_l,
            "feed_l": tank.volume_l * made.ratio,
            "grams_per_litre": {dose.product.name: dose.grams / tank.volume_l for dose in tank.doses},
        }
    return dict(plain(answer, _DIGITS))


def _dose_answer(dose: Dose) -> Plain:
    measured = named(dose, "grams", "millilitres", "spoons", "wanted_g", "rounding")
    return {"product": dose.product.name, **measured, "density_from": dose.product.density_from}


def mixes_lines(mixes: Sequence[GroupMix]) -> Iterator[str]:
    """Write mixes one below the other, and the usual cautions of all once."""
    for number, one in enumerate(mixes):
        yield from [""] if number else []
        yield from _mix_lines(one)
    yield from section("Take care", bullets(once(one.mix.cautions for one in mixes)))


def _mix_lines(made: GroupMix) -> Iterator[str]:
    """Write a mix: the doses first, then what they give, then what to mind."""
    mix, group, units = made.mix, made.group, made.units
    noun = "pot" if group is None or group.in_pots else "tree"
    if group is not None:
        each = f", {say_volume(group.per_pot_l, units)} each" if group.per_pot_l and mix.buckets else ""
        phase = f"; {made.phase}" if made.phase else ""
        yield from (f"{group.name.upper()}: {say_pots(group.count, group)}, {group.stage}{each}{phase}", "")
    doses = [*mix.per_pot, *itertools.chain.from_iterable(bucket.doses for bucket in mix.buckets)]
    if made.ratio is not None:
        yield from _stock_lines(mix.buckets[0], made.ratio, units)
    else:
        yield from _bucket_lines(mix.buckets, noun, doses, units)
    if not mix.buckets:
        yield f"Each {noun} of {mix.pots}:" if group is not None else f"Each of {mix.pots}:"
        yield from _dose_lines(mix.per_pot, doses, units)
    yield from section("What it gives" if made.ratio is None else "What the hose gives", _giving(mix, noun))
    yield from section("Mind", bullets(mix.warnings))


def _stock_lines(tank: Bucket, ratio: float, units: Units) -> Iterator[str]:
    volume, feed = say_volume(tank.volume_l, units), say_volume(tank.volume_l * ratio, units)
    yield f"Stock for an injector of 1:{ratio:g}, a tank of {volume}, which makes {feed} of feed:"
    yield from _dose_lines(tank.doses, tank.doses, units)
    per_litre = (f"{dose.product.name} {dose.grams / tank.volume_l:.1f} g" for dose in tank.doses)
    yield f"  in a litre of stock: {', '.join(per_litre)}"


def alike(buckets: Iterable[Bucket]) -> Iterator[tuple[Bucket, int]]:
    """Return buckets that follow each other and hold the same once, and how many they are."""
    for bucket, same in itertools.groupby(buckets):
        yield bucket, len(list(same))


def _bucket_lines(buckets: Sequence[Bucket], noun: str, doses: Sequence[Dose], units: Units) -> Iterator[str]:
    largest_l = max((bucket.volume_l for bucket in buckets), default=0.0)
    for bucket, count in alike(buckets):
        plural, each = ("s", " each") if count > 1 else ("", "")
        what = "bucket" if bucket.volume_l == largest_l else "part bucket"
        pots = f", for {bucket.pots} {noun}{'' if bucket.pots == 1 else 's'}{each}" if bucket.pots else ""
        yield f"{count} {what}{plural}, {say_volume(bucket.volume_l, units)}{each}{pots}:"
        yield from _dose_lines(bucket.doses, doses, units)


def _dose_lines(doses: Iterable[Dose], every: Sequence[Dose], units: Units) -> Iterator[str]:
    """Write doses in columns that are wide enough for every dose of the mix."""
    wide, wider = (
        max(map(len, texts)) for texts in zip(*((d.spoons, d.product.name) for d in every), strict=True)
    )
    for dose in doses:
        told = [] if is_weighed(dose) else [say_mass(dose.grams, units)]
        if dose.product.form == "liquid":
            told.insert(0, f"{dose.millilitres:.3g} mL")
        if abs(dose.rounding) >= _NOTABLE:
            told.append(f"{dose.rounding * 100:+.0f} % by rounding")
        if dose.product.density_from == "default" and not is_weighed(dose):
            told.append("default density")
        yield f"    {dose.spoons:<{wide}}  {dose.product.name:<{wider}}  {', '.join(told)}".rstrip()


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
        held, unit = {element: amount / 1000.0 for element, amount in held.items()}, "g"
    figures = (f"{element} {f'{x:.0f}' if x >= 10.0 else f'{x:.2g}'}" for element, x in held.items())
    return f"{'  '.join(figures)} {unit}"


def mixes_of(mixed: Iterable[MixedFeeding]) -> list[Mix]:
    """Return the mixes that are to be made."""
    return [one.mix for one in mixed if one.mix is not None]


def next_feedings(mixed: Sequence[MixedFeeding]) -> tuple[MixedFeeding, ...]:
    """Return what is mixed on the first day on which something is."""
    dated = [one for one in mixed if one.mix is not None and one.feeding.date is not None]
    return tuple(one for one in dated if one.feeding.date == dated[0].feeding.date)


def say_mix(mix: Mix, group: PotGroup, units: Units) -> str:
    """Write what goes into each bucket, or on each pot."""
    if not mix.buckets:
        return f"on each of {say_pots(mix.pots, group)}: {_say_doses(mix.per_pot, units)}"
    return say_buckets(mix, "pot" if group.in_pots else "tree", units, _say_doses)


def say_buckets(mix: Mix, noun: str, units: Units, say: Callable[[Sequence[Dose], Units], str]) -> str:
    """Write how many buckets there are, each for how many pots, and what goes in, as doses are said."""
    said = []
    for bucket, count in alike(mix.buckets):
        times, each = (f"{count} x ", " each") if count > 1 else ("", "")
        pots = f"{bucket.pots} {noun}{'' if bucket.pots == 1 else 's'}{each}"
        said.append(f"{times}{say_volume(bucket.volume_l, units)} for {pots}: {say(bucket.doses, units)}")
    return "; ".join(said)


def _say_doses(doses: Sequence[Dose], units: Units) -> str:
    """Write each dose, in grams too unless it is weighed."""
    said = []
    for dose in doses:
        grams = "" if is_weighed(dose) else f" ({say_mass(dose.grams, units).partition(' (')[0]})"
        said.append(f"{dose.spoons}{grams} {dose.product.name}")
    return " + ".join(said)


def say_pots(pots: int, group: PotGroup) -> str:
    """Count a group's pots, or its trees in the ground."""
    return f"{pots} {'pot' if group.in_pots else 'tree'}{'' if pots == 1 else 's'}"
