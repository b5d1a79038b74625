"""The rules of a season: its phases and what they feed, its limits, and the days on which nothing is fed."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from frostgate.errors import InputError
from frostgate.values import dataclass

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
        """Tell whether a day lies in it."""
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
