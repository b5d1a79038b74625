"""What to mix: as text, as JSON, and as a card of one page, large enough for wet hands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from frostgate.errors import InputError
from frostgate.feeding.mix import GroupMix, MixedFeeding
from frostgate.model.feedings import Dose, Element, Feeding, Mix
from frostgate.model.garden import Garden, PotGroup
from frostgate.show.answers import DIGITS, Plain, named, plain
from frostgate.show.say import bullets, columns, counted, once, section
from frostgate.units import Units, say_mass, say_volume

_SIX = ("volume_l", "stock_l", "feed_l", "grams_per_litre", "grams", "millilitres", "wanted_g", "rounding")
_DIGITS = DIGITS | dict.fromkeys(_SIX, 6) | {"ratio": None}
_GRAMS_FROM_MG = 10_000.0
_NOTABLE = 0.005  # a rounding below this is not told
_MOST_SPOONED_ML = 250.0  # nobody would count more spoons than these

INK, GREY, PAPER, BAND = "#111111", "#444444", "#FFFFFF", "#ECECEC"
MARK = "#B34700"  # a darker vermillion than that of Okabe and Ito: contrast on paper; never the only sign
FONT_PT, DENSE_PT, FEW = 11.5, 9.5, 4  # plain text of a card; the doses are 1.65 times as large

# Common practice, no source.
LIQUID_STEPS = (
    "Fill the bucket half full of water.",
    "Add the products in the order listed; stir until each is dissolved.",
    "Fill up with water, stir, and pour at once.",
)
DRY_STEPS = ("Lay granules first: the feed or the water that follows wets them.",)


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
    measured = named(dose, "grams", "millilitres", "spoons", "wanted_g", "rounding", "product.density_from")
    return {"product": dose.product.name, **measured}


class Filling(NamedTuple):
    """Buckets or tanks that hold the same, or what is laid on each pot, in words."""

    many: int  # buckets; none where it is laid
    what: str  # such as "3.5 gal" or "each pot"
    pots: str  # such as "for 4 pots each" or "of 12"; empty where none are counted
    doses: tuple[Dose, ...]


def fillings(mix: Mix, noun: str, units: Units) -> Iterator[Filling]:
    """Return each kind of filling once; where one pot takes several, some of them count no pot."""
    alike: dict[tuple[float, tuple[Dose, ...]], list[int]] = {}
    for bucket in mix.buckets:
        alike.setdefault((bucket.volume_l, bucket.doses), []).append(bucket.pots)
    for (volume_l, doses), pots in alike.items():
        is_each = len(pots) > 1 and len(set(pots)) == 1
        fed = pots[0] if is_each else sum(pots)
        for_pots = f"for {counted(fed, noun)}{' each' if is_each else ''}" if fed else ""
        yield Filling(len(pots), say_volume(volume_l, units), for_pots, doses)
    if mix.per_pot:
        yield Filling(0, f"each {noun}", f"of {mix.pots}", mix.per_pot)


def say_mix(mix: Mix, group: PotGroup | None, units: Units, *, short: bool = False) -> str:
    """Write in one line what goes into each bucket, or on each pot; ``short`` without grams beside spoons."""
    noun = noun_of(group)
    if not mix.buckets:
        doses = _say_doses(mix.per_pot, units, short=short)
        return f"{doses} each" if short else f"on each of {counted(mix.pots, noun)}: {doses}"
    return "; ".join(
        f"{f'{many} x ' if many > 1 else ''}{what} {pots}: {_say_doses(doses, units, short=short)}"
        for many, what, pots, doses in fillings(mix, noun, units)
    )


def _say_doses(doses: Iterable[Dose], units: Units, *, short: bool) -> str:
    said = []
    for dose in doses:
        mass = say_mass(dose.grams, units)
        grams = "" if short or dose.on_scale else f" ({mass.partition(' (')[0]})"
        spoons = mass if short and dose.millilitres > _MOST_SPOONED_ML else dose.spoons
        said.append(f"{spoons}{grams} {dose.product.name}")
    return " + ".join(said)


def mixes_lines(mixes: Sequence[GroupMix]) -> Iterator[str]:
    """Write mixes one below the other, and the usual cautions of all once."""
    for number, one in enumerate(mixes):
        yield from [""] if number else []
        yield from _mix_lines(one)
    yield from section("Take care", bullets(once(one.mix.cautions for one in mixes)))


def _mix_lines(made: GroupMix) -> Iterator[str]:
    """Write a mix: the doses first, then what they give, then what to mind."""
    mix, group, units = made.mix, made.group, made.units
    noun = noun_of(group)
    if group is not None:
        each = f", {say_volume(group.per_pot_l, units)} each" if group.per_pot_l and mix.buckets else ""
        phase = f"; {made.phase}" if made.phase else ""
        yield from (f"{group.name.upper()}: {counted(group.count, noun)}, {group.stage}{each}{phase}", "")
    for head, doses in _filled(made, noun):
        yield head
        yield from columns((_dose_cells(dose, units) for dose in doses), "    ")
        if made.ratio is not None:
            litres = mix.buckets[0].volume_l
            per_litre = (f"{dose.product.name} {dose.grams / litres:.1f} g" for dose in doses)
            yield f"  in a litre of stock: {', '.join(per_litre)}"
    yield from section("What it gives" if made.ratio is None else "What the hose gives", _giving(mix, noun))
    yield from section("Mind", bullets(mix.warnings))


def _filled(made: GroupMix, noun: str) -> Iterator[tuple[str, Sequence[Dose]]]:
    """Return the heads of what is filled or laid, each with its doses."""
    mix, units = made.mix, made.units
    if made.ratio is not None:
        [tank] = mix.buckets
        volume, feed = (say_volume(litres, units) for litres in (tank.volume_l, tank.volume_l * made.ratio))
        head = f"Stock for an injector of 1:{made.ratio:g}, a tank of {volume}, which makes {feed} of feed:"
        yield head, tank.doses
        return
    for many, what, pots, doses in fillings(mix, noun, units):
        poured = f"{counted(many, 'bucket')} of {what}{', ' if pots else ''}{pots}:"
        yield poured if many else f"Each {noun} {pots}:", doses


def _dose_cells(dose: Dose, units: Units) -> tuple[str, str, str]:
    told = _amounts(dose, units)
    if abs(dose.rounding) >= _NOTABLE:
        told.append(f"{dose.rounding * 100:+.0f} % by rounding")
    if dose.product.density_from == "default" and not dose.on_scale:
        told.append("default density")
    return dose.spoons, dose.product.name, ", ".join(told)


def _amounts(dose: Dose, units: Units) -> list[str]:
    """Write beside a dose's spoons what they hold; a mass that is weighed is told already."""
    millilitres = [f"{dose.millilitres:.3g} mL"] if dose.product.form == "liquid" else []
    return millilitres + ([] if dose.on_scale else [say_mass(dose.grams, units)])


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


def noun_of(group: PotGroup | None) -> str:
    """Return what a group is counted by: pots, or trees in the ground."""
    return "pot" if group is None or group.in_pots else "tree"


def card_html(garden: Garden, coming: Sequence[MixedFeeding]) -> str:
    """Write a card to print for one day: one page of A4 or US letter for four groups, in black on white.

    The page holds no script and asks for nothing from elsewhere; every name is escaped.
    """
    if not coming:
        raise InputError("no day of feeding is dated, so there is no card to write")
    from jinja2 import Environment, PackageLoader, StrictUndefined

    pages = Environment(
        loader=PackageLoader("frostgate", "show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    by_group: dict[str, list[tuple[Feeding, Mix]]] = {}
    for one in coming:
        if one.mix is not None:
            by_group.setdefault(one.feeding.group, []).append((one.feeding, one.mix))
    mixes, day = mixes_of(coming), coming[0].feeding.date
    warnings = {name: once(mix.warnings for _, mix in fed) for name, fed in by_group.items()}
    times = Counter(warning for told in warnings.values() for warning in told)
    shared = [warning for warning, count in times.items() if count > 1]  # they stand once, below all
    groups = []
    for name, fed in by_group.items():
        noun = noun_of(garden.group(name))
        held = (f"not yet: {one.reason}" for one, _ in fed if one.status in {"held", "waiting"})
        own = (warning for warning in warnings[name] if warning not in shared)
        groups.append({
            "name": name,
            "pots": counted(fed[0][1].pots, noun),
            "feedings": [_card_table(feeding, mix, noun, garden.units) for feeding, mix in fed],
            "warnings": once([held, own]),
        })  # fmt: skip
    return pages.get_template("card.html").render(
        title=garden.home.name,
        font_pt=FONT_PT if len(mixes) <= FEW else DENSE_PT,
        day=f"{day:%A} {day.day} {day:%B} {day.year}" if day else "",
        groups=groups,
        amounts=partial(_amounts, units=garden.units),
        shared=shared,
        steps=(
            *(DRY_STEPS if any(mix.per_pot for mix in mixes) else ()),
            *(LIQUID_STEPS if any(mix.buckets for mix in mixes) else ()),
        ),
        cautions=once(mix.cautions for mix in mixes),
        colours={"ink": INK, "grey": GREY, "paper": PAPER, "band": BAND, "mark": MARK},
    )


def _card_table(feeding: Feeding, mix: Mix, noun: str, units: Units) -> dict[str, object]:
    """Return a feeding as a table: a column for each kind of filling, a row for each product."""
    filled = list(fillings(mix, noun, units))
    by_column = [{dose.product.name: dose for dose in filling.doses} for filling in filled]
    in_order = once(by_column)  # of adding
    rows = {product: [doses.get(product) for doses in by_column] for product in in_order}
    return {"feeding": feeding, "ec_ms_cm": mix.ec_ms_cm, "columns": filled, "rows": rows}
