"""What is fed and when: products as their labels state them, phases and rules, mixes, a season's feedings."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from frostgate.errors import InputError
from frostgate.model.gate import Policy
from frostgate.seasons import is_month_day
from frostgate.units import Per

if TYPE_CHECKING:
    import pandas as pd

Element = Literal["N", "P", "K", "Mg", "S", "Ca"]
ELEMENTS: tuple[Element, ...] = ("N", "P", "K", "Mg", "S", "Ca")
ProductForm = Literal["soluble", "liquid", "granular"]
DensityFrom = Literal["measured", "label", "default"]

# From the atomic weights of IUPAC 2021: 2 x 30.974 / 141.943 and 2 x 39.098 / 94.195.
P_IN_P2O5 = 0.43643
K_IN_K2O = 0.83015


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """A label's guaranteed analysis [% by mass]: N, P2O5 and K2O as labels state them, the rest as elements.

    Raises
    ------
    InputError
        Where a share is no percentage, or they exceed 100 % together.

    Examples
    --------
    >>> shares = Analysis(n=17, p2o5=5, k2o=9).shares
    >>> [(element, round(share, 4)) for element, share in shares.items() if share]
    [('N', 0.17), ('P', 0.0218), ('K', 0.0747)]
    """

    n: float = 0.0
    p2o5: float = 0.0
    k2o: float = 0.0
    mg: float = 0.0
    s: float = 0.0
    ca: float = 0.0
    trace: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        stated = [self.n, self.p2o5, self.k2o, self.mg, self.s, self.ca, *(share for _, share in self.trace)]
        if not all(0.0 <= share <= 100.0 for share in stated) or sum(stated) > 100.0:
            raise InputError("an analysis is given in % by mass, 100 together at most", value=self.grade)

    @property
    def grade(self) -> str:
        """The label's three numbers, N-P2O5-K2O."""
        return f"{self.n:g}-{self.p2o5:g}-{self.k2o:g}"

    @property
    def shares(self) -> dict[Element, float]:
        """Mass share of each element, P and K no longer as oxides."""
        percent = (self.n, self.p2o5 * P_IN_P2O5, self.k2o * K_IN_K2O, self.mg, self.s, self.ca)
        return {element: share / 100.0 for element, share in zip(ELEMENTS, percent, strict=True)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """So much product for each litre of water, each pot or each metre of a tree's height."""

    grams: float  # of product, for one of per [g]
    per: Per
    text: str  # as the label, or the grower, wrote it
    by_mass: bool  # whether that states a mass, so that its reader weighs

    def __post_init__(self) -> None:
        if not (0.0 < self.grams < math.inf):
            raise InputError("a rate is above 0", value=self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A fertilizer as its label describes it.

    Parameters
    ----------
    name : as the grower calls it
    analysis : what it holds
    form : ``soluble`` (a powder for water), ``liquid`` (a concentrate) or ``granular`` (laid on the soil)
    density_g_ml : mass of a spoon's fill over its volume [g/mL]
    density_from : ``measured`` by the grower, stated on the ``label``, or a ``default``, off by up to a fifth
    rate, most : the label's rate, and the largest that it allows; None where the label states none
    organic : whether its nitrogen must first be broken down in the soil
    ec_ms_cm_per_g_l : electrical conductivity that one gram in a litre adds [mS/cm]; None where not stated
    pack_g, price : size of a package [g] and what it costs; None where not stated

    Raises
    ------
    InputError
        Where no fertilizer has such a density.
    """

    name: str
    analysis: Analysis
    form: ProductForm
    density_g_ml: float
    density_from: DensityFrom
    rate: Rate | None
    most: Rate | None = None
    organic: bool = False
    ec_ms_cm_per_g_l: float | None = None
    pack_g: float | None = None
    price: float | None = None

    @property
    def weighed(self) -> bool:
        """Whether the label states its rate by mass."""
        return self.rate is not None and self.rate.by_mass

    def __post_init__(self) -> None:
        if not 0.05 <= self.density_g_ml <= 5.0:
            raise InputError("no fertilizer has such a density [g/mL]", value=self.density_g_ml)


FeedingKind = Literal["liquid", "top-dressing"]  # poured, or laid on the soil
Anchor = Literal["gate", "first feeding", "fruit set", "bud break"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoFeeding:
    """Days of every year on which local rules forbid feeding, both ends included; they may wrap New Year."""

    name: str
    first: tuple[int, int]  # (month, day)
    last: tuple[int, int]

    def __post_init__(self) -> None:
        for month, day in (self.first, self.last):
            if not is_month_day(month, day):
                raise InputError(f"no day of a year, in {self.name!r}", value=f"{month:02d}-{day:02d}")

    def forbids(self, day: dt.date) -> bool:
        """Return whether a day lies in it."""
        at = (day.month, day.day)
        if self.first <= self.last:
            return self.first <= at <= self.last
        return at >= self.first or at <= self.last


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """One product of a feeding, and how strong: by the label's rate, or by nitrogen in the solution."""

    product: str  # its name
    strength: float | None = None  # share of the label's rate
    n_ppm: float | None = None  # nitrogen wanted in the solution [mg/L]

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
    """A stretch of the season that is fed in one way."""

    name: str  # such as wake-up, build-up, fruiting, taper, top-dressing
    kind: FeedingKind
    anchor: Anchor
    after_days: int  # it begins so many days after its anchor
    every_days: int  # between two feedings
    portions: tuple[Portion, ...]
    feedings: int | None = None  # at most; None goes on until the next liquid phase begins, or the stop
    groups: tuple[str, ...] = ()  # names of those it is for; empty for all that suit its kind
    source: str = "stated in the garden file"  # where the numbers come from

    def __post_init__(self) -> None:
        if self.every_days < 1 or self.after_days < 0 or (self.feedings is not None and self.feedings < 1):
            raise InputError(f"the days and feedings of phase {self.name!r} are above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonRules:
    """Limits of the season that the grower may dispute."""

    stop_weeks: float = 7.0  # last nitrogen before the first autumn frost; "six to eight weeks", from memory
    least_days: int = 7  # never feed a group twice within so many days (top-dressing counts apart)
    n_per_pot_g: float | None = None  # ceiling of nitrogen for one pot in a season [g]
    ec_limit_ms_cm: float = 3.0  # of the strongest mix [mS/cm]; from memory, the leachate value to flag
    water_ec_ms_cm: float | None = None  # of the water itself [mS/cm]; None where not measured
    autumn_risk: float | None = None  # of an earlier first frost; None takes the site's limit


Status = Literal["done", "due", "planned", "waiting", "held", "left out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """So much of one product, as it can be measured."""

    product: Product
    grams: float  # as measured with the scoops at hand: what really goes in [g]
    wanted_g: float  # what the target asks for [g]
    spoons: str  # how to measure it, in words, such as 2 x 2.5 tsp
    on_scale: bool = False  # so that its density does not matter
    too_small: bool = False  # for the spoons at hand, and so weighed or measured in millilitres

    @property
    def millilitres(self) -> float:
        """The same [mL]."""
        return self.grams / self.product.density_g_ml

    @property
    def rounding(self) -> float:
        """The relative error that measuring makes."""
        return self.grams / self.wanted_g - 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """One filling of the bucket or tank: its solution [L], and how many pots have all of theirs with it."""

    volume_l: float
    pots: int
    doses: tuple[Dose, ...] = ()  # none while it is empty


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """What to mix for a group of pots, and what it gives them.

    Parameters
    ----------
    buckets : whole ones, then the last part one; none for a top-dressing, whose doses stand in ``per_pot``
    ppm : each element in the solution [mg/L], by what is really measured; empty for a top-dressing
    per_pot_mg : each element one pot receives [mg]
    per_pot : for a top-dressing, what is laid on one pot or around one tree
    pots : how many are fed
    ec_ms_cm : electrical conductivity [mS/cm], by the labels and the water; None where a label does not tell
    warnings, cautions : what to mind about this mix, and about every mix
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
    group, phase : their names
    kind : ``liquid`` or ``top-dressing``
    number : which feeding of its phase, from 1
    reason : why this day, in words
    date : the day; None while the gate, or an anchor that is not logged, leaves it open
    portions : what is fed, and how strong; empty where it is done
    status : ``done``; ``due`` today; ``planned``; ``waiting`` for the gate or an anchor; ``held`` back by
        a forecast frost; ``left out`` by a ceiling
    not_before_gate : whether it is on the gate's date or later; true of all that are dated and not done
    """

    group: str
    phase: str
    kind: FeedingKind
    number: int
    reason: str
    date: dt.date | None = None
    portions: tuple[Portion, ...] = ()
    status: Status = "waiting"
    not_before_gate: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A feeding that was really done."""

    on: dt.date
    group: str  # its name; empty where the whole garden was fed
    phase: str | None  # as logged; None where the grower did not say
    kind: FeedingKind
    n_per_pot_g: float | None = None  # nitrogen it gave each pot [g]; None where the mix was not logged

    def fed(self, group: str) -> bool:
        """Return whether a group was fed, by its name or with the whole garden."""
        return self.group in {group, ""}


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonFacts:
    """What is known of this season on the day the plan is made."""

    today: dt.date
    gate: dt.date | None = None  # the earliest safe date, or the day it was found open; None unknown
    gate_open: bool = False  # whether it is open today, or a first feeding was already done
    first_autumn_frost: dt.date | None = None  # at the chosen risk; None where none is known
    frost_on: tuple[dt.date, ...] = ()  # mornings of forecast damaging frosts; feedings wait for them
    policy: Policy = field(default_factory=Policy)  # tells from which day on pots are clear of a frost
    frost_risk: float = (
        0.0  # chance of a damaging frost on the nights that the forecast tells of, or else the climate
    )
    bud_break: tuple[tuple[str, dt.date], ...] = ()  # by group name, as logged
    fruit_set: tuple[tuple[str, dt.date], ...] = ()  # by group name, as logged
    growth: tuple[tuple[str, dt.date], ...] = ()  # by group name, as logged
    leaves_off: dt.date | None = None  # from then on the trees are taken to be dormant
    done: tuple[Done, ...] = ()  # feedings of this season, in order


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """The season's feedings, in order of date; undated ones last.

    Parameters
    ----------
    feedings : all, the done ones too
    gate, stop : the earliest date, and the day after which no nitrogen is fed; None where unknown
    n_per_pot_g : nitrogen for one pot over the season by group [g], done and planned; without feedings whose
        mix is not known, and the notes say so
    notes : what shaped it, in words
    """

    feedings: tuple[Feeding, ...]
    gate: dt.date | None
    stop: dt.date | None
    n_per_pot_g: tuple[tuple[str, float], ...]
    notes: tuple[str, ...]

    def to_dataframe(self) -> pd.DataFrame:
        """Return the feedings, one a row: date, group, phase, kind, number, status and reason."""
        import pandas as pd

        names = ["date", "group", "phase", "kind", "number", "status", "reason"]
        rows = [[getattr(feeding, name) for name in names] for feeding in self.feedings]
        return pd.DataFrame(rows, columns=names).astype({"date": "datetime64[s]"})
