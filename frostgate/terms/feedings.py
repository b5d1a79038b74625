"""What is mixed, and when it is fed."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from frostgate.terms.phases import Portion
from frostgate.terms.products import Element, Product
from frostgate.values import dataclass

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
    >>> from frostgate.terms.products import Analysis
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
