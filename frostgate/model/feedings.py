"""What is fed and when: phases and their rules, mixes, feedings, the facts of a season."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from frostgate.errors import InputError
from frostgate.model.products import Element, Product

Anchor = Literal["gate", "first feeding", "fruit set", "bud break"]
_LONGEST = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoFeeding:
    """Days of every year on which local rules forbid feeding, both ends included; they may wrap New Year.

    Parameters
    ----------
    name
        Which rule.
    first, last
        (month, day).

    Raises
    ------
    InputError
        Where there is no such day in any year.

    Examples
    --------
    >>> winter = NoFeeding(name="local ordinance", first=(11, 15), last=(3, 1))
    >>> [winter.forbids(dt.date(2024, *day)) for day in ((11, 14), (12, 31), (2, 29), (3, 1), (3, 2))]
    [False, True, True, True, False]
    """

    name: str
    first: tuple[int, int]
    last: tuple[int, int]

    def __post_init__(self) -> None:
        for month, day in (self.first, self.last):
            if not (1 <= month <= 12 and 1 <= day <= _LONGEST[month - 1]):
                raise InputError(f"no day of a year, in {self.name!r}", value=f"{month:02d}-{day:02d}")

    def forbids(self, day: dt.date) -> bool:
        """Return whether a day lies in it."""
        at = (day.month, day.day)
        if self.first <= self.last:
            return self.first <= at <= self.last
        return at >= self.first or at <= self.last


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """One product of a feeding, and how strong.

    Parameters
    ----------
    product
        Its name.
    strength
        Share of the label's rate; None where ``n_ppm`` is stated.
    n_ppm
        Nitrogen wanted in the solution [mg/L]; None where ``strength`` is stated.

    Raises
    ------
    InputError
        Where both or neither is stated.

    Examples
    --------
    >>> Portion(product="Spring feed", strength=0.5).n_ppm is None
    True
    """

    product: str
    strength: float | None = None
    n_ppm: float | None = None

    def __post_init__(self) -> None:
        if (self.strength is None) == (self.n_ppm is None):
            raise InputError(
                f"{self.product!r} needs either a strength or ppm of nitrogen",
                remedy='Write strength = "full", or n_ppm = 150.',
            )
        stated = self.strength if self.n_ppm is None else self.n_ppm
        if stated is None or not 0.0 < stated < 1e5:
            raise InputError("a strength is above 0", value=stated)


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A stretch of the season that is fed in one way.

    Parameters
    ----------
    name
        Such as ``wake-up``, ``build-up``, ``fruiting``, ``taper``, ``top-dressing``.
    kind
        ``liquid`` (poured) or ``top-dressing`` (laid on the soil).
    anchor, after_days
        The phase begins so many days after the gate opens, the first feeding, bud break or fruit set.
    every_days
        Between two feedings.
    feedings
        How many at most; None goes on until the next liquid phase begins, or the stop.
    portions
        What is fed.
    groups
        Names of the groups it is for; empty for all that suit its kind.
    source
        Where the numbers come from, in words.

    Examples
    --------
    >>> Phase(name="wake-up", kind="liquid", anchor="gate", after_days=0, every_days=10, feedings=2,
    ...       portions=(Portion(product="Spring feed", strength=1.0),)).groups
    ()
    """

    name: str
    kind: Literal["liquid", "top-dressing"]
    anchor: Anchor
    after_days: int
    every_days: int
    portions: tuple[Portion, ...]
    feedings: int | None = None
    groups: tuple[str, ...] = ()
    source: str = "stated in the garden file"

    def __post_init__(self) -> None:
        if self.every_days < 1 or self.after_days < 0 or (self.feedings is not None and self.feedings < 1):
            raise InputError(f"the days and feedings of phase {self.name!r} are above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonRules:
    """Limits of the season that the grower may dispute.

    Parameters
    ----------
    stop_weeks
        The last nitrogen comes so many weeks before the first autumn frost at the chosen risk. 7: "six to
        eight weeks", from memory.
    least_days
        Never feed a group twice within so many days (top-dressing counts apart).
    n_per_pot_g
        Ceiling of nitrogen for one pot in a season [g]; None states none.
    ec_limit_ms_cm
        No stronger solution is mixed [mS/cm]. 3.0: from memory, the leachate value to flag.
    water_ec_ms_cm
        Of the water itself [mS/cm]; None where it was not measured.
    autumn_risk
        The chance of an earlier first autumn frost that one can live with; None takes the site's limit.

    Examples
    --------
    >>> SeasonRules().stop_weeks
    7.0
    """

    stop_weeks: float = 7.0
    least_days: int = 7
    n_per_pot_g: float | None = None
    ec_limit_ms_cm: float = 3.0
    water_ec_ms_cm: float | None = None
    autumn_risk: float | None = None


Status = Literal["done", "due", "planned", "waiting", "held", "left out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """So much of one product, as it can be measured.

    Parameters
    ----------
    product
        Which.
    grams, millilitres
        As measured with the scoops at hand: what really goes in [g], [mL].
    wanted_g
        What the target asks for [g].
    spoons
        How to measure it, in words, such as ``2 x 1.5 tbsp``.

    Examples
    --------
    >>> from frostgate.model.products import Analysis
    >>> salt = Product(name="Epsom salt", analysis=Analysis(mg=9.86, s=13.0), form="soluble",
    ...                density_g_ml=1.0, density_from="default", rate=None)
    >>> dose = Dose(product=salt, grams=10.0, millilitres=10.0, wanted_g=9.5, spoons="2 tsp")
    >>> round(dose.rounding, 3)
    0.053
    """

    product: Product
    grams: float
    millilitres: float
    wanted_g: float
    spoons: str

    @property
    def rounding(self) -> float:
        """The relative error that measuring makes."""
        return self.grams / self.wanted_g - 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """One filling of the bucket or tank.

    Examples
    --------
    >>> Bucket(volume_l=19.0, pots=5, doses=()).pots
    5
    """

    volume_l: float
    pots: int
    doses: tuple[Dose, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """What to mix for a group of pots, and what it gives them.

    Parameters
    ----------
    buckets
        The whole ones, then the last part one. Empty for a top-dressing, whose doses stand in ``per_pot``.
    ppm
        Each element in the solution [mg/L], by what is really measured; empty for a top-dressing.
    per_pot_mg
        Each element one pot receives [mg].
    per_pot
        For a top-dressing, what is laid on one pot or around one tree.
    pots
        How many are fed.
    ec_ms_cm
        Electrical conductivity [mS/cm], by the labels and the water; None where a label does not tell.
    warnings
        What to mind about this mix.
    cautions
        The usual ones.

    Examples
    --------
    >>> Mix(buckets=(), ppm={}, per_pot_mg={}, pots=3).ec_ms_cm is None
    True
    """

    buckets: tuple[Bucket, ...]
    ppm: dict[Element, float]
    per_pot_mg: dict[Element, float]
    pots: int
    per_pot: tuple[Dose, ...] = ()
    ec_ms_cm: float | None = None
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Feeding:
    """One feeding of one group of pots, planned or done.

    Parameters
    ----------
    date
        The day; None while the gate, or an anchor that is not logged, leaves it open.
    group, phase
        Their names.
    kind
        ``liquid`` or ``top-dressing``.
    portions
        What is fed, and how strong.
    number
        Which feeding of its phase, from 1.
    status
        ``done``; ``due`` today; ``planned``; ``waiting`` for the gate or an anchor; ``held`` back by a frost
        that is forecast; ``left out`` by a ceiling.
    not_before_gate
        Whether its date is the gate's date or later; true of every dated feeding that is not done.
    reason
        Why this day, in words.

    Examples
    --------
    >>> Feeding(date=dt.date(2026, 5, 16), group="old figs", phase="wake-up", kind="liquid", portions=(),
    ...         number=1, status="planned", not_before_gate=True, reason="the gate opens").status
    'planned'
    """

    date: dt.date | None
    group: str
    phase: str
    kind: Literal["liquid", "top-dressing"]
    portions: tuple[Portion, ...]
    number: int
    status: Status
    not_before_gate: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A feeding that was really done.

    Parameters
    ----------
    on, group
        When, and for which group.
    phase
        As logged; None where the grower did not say.
    kind
        ``liquid`` or ``top-dressing``.
    n_per_pot_g
        Nitrogen it gave each pot [g]; None where the mix was not logged.

    Examples
    --------
    >>> Done(on=dt.date(2026, 5, 16), group="old figs", phase="wake-up", kind="liquid").n_per_pot_g is None
    True
    """

    on: dt.date
    group: str
    phase: str | None
    kind: Literal["liquid", "top-dressing"]
    n_per_pot_g: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonFacts:
    """What is known of this season on the day the plan is made.

    Parameters
    ----------
    today
        The day.
    gate
        The earliest safe date of the first feeding, or the day it was found open; None while unknown.
    gate_open
        Whether the gate is open today, or a first feeding was already done.
    first_autumn_frost
        The date of the first autumn frost at the chosen risk; None where none is known.
    frost_on
        Mornings with a damaging frost in the forecast; feedings are held until they are past.
    bud_break, fruit_set
        By group name, as logged.
    done
        Feedings of this season, in order.

    Examples
    --------
    >>> SeasonFacts(today=dt.date(2026, 4, 1)).gate is None
    True
    """

    today: dt.date
    gate: dt.date | None = None
    gate_open: bool = False
    first_autumn_frost: dt.date | None = None
    frost_on: tuple[dt.date, ...] = ()
    bud_break: tuple[tuple[str, dt.date], ...] = ()
    fruit_set: tuple[tuple[str, dt.date], ...] = ()
    done: tuple[Done, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """The season's feedings, in order of date; undated ones last.

    Parameters
    ----------
    feedings
        All, the done ones too.
    gate, stop
        The earliest date, and the day after which no nitrogen is fed; None where unknown.
    n_per_pot_g
        Nitrogen for one pot over the season by group [g], done and planned; a feeding whose mix is not known
        is not in it, and the notes say so.
    notes
        What shaped it, in words.

    Examples
    --------
    >>> Programme(feedings=(), gate=None, stop=None, n_per_pot_g=(), notes=()).feedings
    ()
    """

    feedings: tuple[Feeding, ...]
    gate: dt.date | None
    stop: dt.date | None
    n_per_pot_g: tuple[tuple[str, float], ...]
    notes: tuple[str, ...]
