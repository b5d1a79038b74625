"""The columns of a forecast table: what each holds by its name, and whether together they make sense."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Sequence
from typing import Literal

from frostgate.patterns import pattern
from frostgate.sources.forecasts.documents import Spot
from frostgate.sources.forecasts.nights import FEWEST_MEMBERS
from frostgate.units import TemperatureUnit
from frostgate.values import dataclass

Kind = Literal["date", "issued", "minimum", "spread", "quantile", "member"]

_KINDS: dict[str, Kind] = {
    "date": "date", "issued": "issued", "tmin": "minimum", "low": "minimum", "sd": "spread",
    "spread": "spread", "q": "quantile", "p": "quantile", "m": "member", "member": "member",
}  # fmt: skip
_NAME = pattern(
    r"""(?: (?P<day>date | issued)
          | (?: (?P<plain>tmin | low | sd | spread)
              | (?P<counted>q | p | m | member) _? (?P<number>\d+(\.\d+)?) )
            (?: _(?P<letter>[cf]) | \s* [(\[] \s* °? \s* (?P<bracketed>[cf]) \s* [)\]] )? )""",
    re.IGNORECASE | re.VERBOSE | re.ASCII,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column that the reader knows.

    Parameters
    ----------
    index, name
        Where it stands, from 0, and its name in the header.
    kind
        What it holds.
    number
        The level of a quantile [%], or the number of a member.
    unit
        The unit its name states.

    Examples
    --------
    >>> known_column(1, "tmin (°C)").unit
    'C'
    """

    index: int
    name: str
    kind: Kind
    number: float = 0.0
    unit: TemperatureUnit | None = None


def known_column(index: int, name: str) -> Column | None:
    """Tell what a column holds by its name; None for a column that says nothing of minima.

    Examples
    --------
    >>> known_column(2, "q10_f").number, known_column(3, "rain") is None
    (10.0, True)
    """
    match = _NAME().fullmatch(name)
    if match is None:
        return None
    kind = _KINDS[(match["day"] or match["plain"] or match["counted"]).lower()]
    letter = (match["letter"] or match["bracketed"] or "").upper()
    unit: TemperatureUnit | None = "F" if letter == "F" else "C" if letter == "C" else None
    return Column(index=index, name=name, kind=kind, number=float(match["number"] or 0), unit=unit)


def known_columns(header: Sequence[str], spot: Spot) -> dict[Kind, list[Column]]:
    """Sort the columns of a header by what they hold; quantiles and members rise.

    Raises
    ------
    InputError
        Where two say the same, none states a minimum, or the spread is stated in two ways.

    Examples
    --------
    >>> from pathlib import Path
    >>> found = known_columns(["date", "q50", "q10"], Spot(file=Path("f.csv"), line=1))
    >>> [column.name for column in found["quantile"]]
    ['q10', 'q50']
    """
    named = (known_column(index, name) for index, name in enumerate(header))
    columns = sorted((c for c in named if c is not None), key=lambda column: column.number)
    for one, other in itertools.combinations(columns, 2):
        if (one.kind, one.number) == (other.kind, other.number):
            raise spot.fault("two columns say the same", f"{one.name}, {other.name}", "Keep one of them.")
    kinds: dict[Kind, list[Column]] = {}
    for column in columns:
        kinds.setdefault(column.kind, []).append(column)
    _refuse_what_cannot_be(kinds, spot)
    return kinds


def sd_from_quantiles(levels: Sequence[float], quantiles: Sequence[float]) -> float:
    """Give the standard deviation of the cold side: median less lowest quantile, over its normal quantile.

    Parameters
    ----------
    levels
        Percentages between 0 and 100; 50 is the median.
    quantiles
        The values there, in any unit; NaN where missing.

    Returns
    -------
    float
        In the same unit; NaN where median or lowest quantile is missing, or no level lies below 50.

    Examples
    --------
    >>> round(sd_from_quantiles([10, 50, 90], [-1.0, 1.0, 2.0]), 4)  # 2 / 1.2816
    1.5606
    """
    at = dict(zip(levels, quantiles, strict=True))
    lowest = min(at)
    if lowest >= 50.0:
        return math.nan
    from statistics import NormalDist  # slow to load, and few forecasts state quantiles

    return (at.get(50.0, math.nan) - at[lowest]) / -NormalDist().inv_cdf(lowest / 100.0)


def _refuse_what_cannot_be(kinds: dict[Kind, list[Column]], spot: Spot) -> None:
    spreads: list[Kind] = [kind for kind in ("spread", "quantile", "member") if kind in kinds]
    levels = [column.number for column in kinds.get("quantile", [])]
    if len(spreads) > 1:
        names = _names(column for kind in spreads for column in kinds[kind])
        raise spot.fault("more than one kind of spread", names, "Keep sd, quantiles or members.")
    if 0 < len(kinds.get("member", [])) < FEWEST_MEMBERS:
        raise spot.fault(f"fewer than {FEWEST_MEMBERS} members", _names(kinds["member"]), "Add the others.")
    if levels and not 0.0 < levels[0] <= levels[-1] < 100.0:
        raise spot.fault("a quantile lies between 0 and 100", _names(kinds["quantile"]), "Leave it out.")
    if "minimum" not in kinds and "member" not in kinds and 50.0 not in levels:
        names = _names(column for columns in kinds.values() for column in columns)
        remedy = "Name it tmin_c, tmin_f, low, q50 or member_1, member_2, member_3."
        raise spot.fault("no column of minima", names, remedy)


def _names(columns: Iterable[Column]) -> str:
    return ", ".join(column.name for column in columns)
