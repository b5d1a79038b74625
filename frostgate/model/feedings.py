"""What is fed and when: phases and their rules, mixes, feedings, the facts of a season."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from frostgate.errors import InputError
from frostgate.model.gate import Policy
from frostgate.model.products import Element, Product
from frostgate.seasons import is_month_day

if TYPE_CHECKING:
    import pandas as pd

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
    date : the day; None while the gate, or an anchor that is not logged, leaves it open
    group, phase : their names
    kind : ``liquid`` or ``top-dressing``
    portions : what is fed, and how strong
    number : which feeding of its phase, from 1
    status : ``done``; ``due`` today; ``planned``; ``waiting`` for the gate or an anchor; ``held`` back by
        a forecast frost; ``left out`` by a ceiling
    not_before_gate : whether it is on the gate's date or later; true of all that are dated and not done
    reason : why this day, in words
    """

    date: dt.date | None
    group: str
    phase: str
    kind: FeedingKind
    portions: tuple[Portion, ...]
    number: int
    status: Status
    not_before_gate: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A feeding that was really done."""

    on: dt.date
    group: str
    phase: str | None  # as logged; None where the grower did not say
    kind: FeedingKind
    n_per_pot_g: float | None = None  # nitrogen it gave each pot [g]; None where the mix was not logged


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonFacts:
    """What is known of this season on the day the plan is made."""

    today: dt.date
    gate: dt.date | None = None  # the earliest safe date, or the day it was found open; None unknown
    gate_open: bool = False  # whether it is open today, or a first feeding was already done
    first_autumn_frost: dt.date | None = None  # at the chosen risk; None where none is known
    frost_on: tuple[dt.date, ...] = ()  # mornings of forecast damaging frosts; feedings wait for them
    policy: Policy = field(default_factory=Policy)  # tells from which day on pots are clear of a frost
    bud_break: tuple[tuple[str, dt.date], ...] = ()  # by group name, as logged
    fruit_set: tuple[tuple[str, dt.date], ...] = ()  # by group name, as logged
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
