"""Places side by side: each with its figures under stable names, as an answer and as rows of values."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

from frostgate.climate.comparison import DateSpread, PlaceClimate, spread_of_dates
from frostgate.climate.zones import MeanExtreme, Zone
from frostgate.errors import FrostgateError
from frostgate.gate.morning import Morning
from frostgate.seasons import NORTH
from frostgate.show.answers import Plain, iso, rounded
from frostgate.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """One of the places that are compared.

    Parameters
    ----------
    name
        Unlike that of any other.
    record
        The station's file; None where none is named.
    climate
        Its figures; None where ``problem`` says why not.
    morning
        The gate's answer; None where no forecast is named, or ``doubt`` says why not.

    Examples
    --------
    >>> Place(name="Hollin Bank", problem=FrostgateError("no record is named")).climate is None
    True
    """

    name: str
    record: Path | None = None
    climate: PlaceClimate | None = None
    problem: FrostgateError | None = None
    morning: Morning | None = None
    doubt: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Places side by side, and what is common to them.

    Parameters
    ----------
    places
        In the order in which they are shown.
    risk
        The limit at which dates are shown; None where the places' own differ.
    zones
        Only records of these zones are among the places; empty for all.
    elsewhere
        How many other records lie in which zone, by its name.
    notes
        What the grower should know of them together, in words.

    Examples
    --------
    >>> Comparison(places=()).compared
    ()
    """

    places: tuple[Place, ...]
    risk: float | None = 0.1
    zones: tuple[Zone, ...] = ()
    elsewhere: tuple[tuple[str, int], ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def compared(self) -> tuple[tuple[Place, PlaceClimate], ...]:
        """The places of which there are figures, each with them."""
        return tuple((place, place.climate) for place in self.places if place.climate is not None)

    @property
    def spreads(self) -> tuple[DateSpread, ...]:
        """How far their median last frosts lie apart."""
        return spread_of_dates((place.name, climate) for place, climate in self.compared)

    @property
    def zone_text(self) -> str:
        """The zones that were asked for, as growers write them: both halves as one."""
        names = [zone.name for zone in self.zones]
        return names[0] if len(names) == 1 else names[0][:-1] if names else ""


def comparison_answer(comparison: Comparison) -> Plain:
    """Give the comparison under the names of the JSON answer.

    Examples
    --------
    >>> comparison_answer(Comparison(places=()))["places"]
    []
    """
    zone = {
        "zone": comparison.zone_text,
        "records": len(comparison.compared),
        "elsewhere": dict(comparison.elsewhere),
    }
    return {
        "places": [
            place_facts(place) | {"notes": [] if place.climate is None else list(place.climate.notes)}
            for place in comparison.places
        ],
        "zone": zone if comparison.zones else None,
        "last_medians": [
            {
                "hemisphere": hemisphere_of(spread),
                "places": spread.places,
                "earliest": {"name": spread.earliest[0], "date": spread.earliest[1]},
                "latest": {"name": spread.latest[0], "date": spread.latest[1]},
                "days": spread.days,
            }
            for spread in comparison.spreads
        ],
        "notes": list(comparison.notes),
    }


def place_rows(comparison: Comparison) -> str:
    r"""Write the places as rows of comma-separated values, the first naming the columns.

    Examples
    --------
    >>> place_rows(Comparison(places=())).split(",")[:2]
    ['name', 'record']
    """
    text = io.StringIO()
    columns = list(place_facts(Place(name="")))
    rows = csv.DictWriter(text, columns, lineterminator="\n")
    rows.writeheader()
    rows.writerows(place_facts(place) for place in comparison.places)
    return text.getvalue().removesuffix("\n")


def place_facts(place: Place) -> Plain:
    """Give a place's figures as plain values, None for what is not known; dates are MM-DD.

    Examples
    --------
    >>> place_facts(Place(name="Hollin Bank", problem=FrostgateError("no record is named")))["problem"]
    'no record is named.'
    """
    verdict = None if place.morning is None else place.morning.verdict
    return {
        "name": place.name,
        "record": None if place.record is None else str(place.record),
        **{key: None if place.climate is None else give(place.climate) for key, give in _FIGURES.items()},
        "verdict": None if verdict is None else verdict.state,
        "on": None if verdict is None else iso(verdict.on),
        "earliest_date": None if verdict is None else iso(verdict.earliest_date),
        "no_verdict": place.doubt,
        "problem": None if place.problem is None else str(place.problem),
    }


def _of_coldest(
    give: Callable[[MeanExtreme], object],
) -> Callable[[PlaceClimate], object]:
    return lambda climate: None if climate.coldest is None else give(climate.coldest)


_FIGURES: dict[str, Callable[[PlaceClimate], object]] = {
    "station": lambda climate: climate.station.id,
    "station_name": lambda climate: climate.station.name,
    "threshold_c": lambda climate: round(climate.last.threshold_c, 3),
    "risk": lambda climate: climate.risk,
    "last_median": lambda climate: climate.last_median,
    "last_at_risk": lambda climate: climate.last_at_risk,
    "first_median": lambda climate: climate.first_median,
    "first_at_risk": lambda climate: climate.first_at_risk,
    "season_median_days": lambda climate: climate.median_length_days,
    "season_at_risk_days": lambda climate: climate.length_at_risk_days,
    "last_spread_days": lambda climate: climate.spread_days,
    "trend_days_per_decade": lambda climate: rounded(climate.trend.days_per_decade),
    "trend_low": lambda climate: rounded(climate.trend.low),
    "trend_high": lambda climate: rounded(climate.trend.high),
    "frost_share": lambda climate: round(climate.last.frost_share, 6),
    "seasons_used": lambda climate: climate.last.seasons_used,
    "seasons_unknown": lambda climate: climate.last.seasons_unknown,
    "first_year": lambda climate: climate.last.first_year,
    "last_year": lambda climate: climate.last.last_year,
    "zone": _of_coldest(lambda coldest: coldest.zone.name),
    "zone_coldest": _of_coldest(lambda coldest: coldest.zones[0].name),
    "zone_warmest": _of_coldest(lambda coldest: coldest.zones[-1].name),
    "coldest_night_c": _of_coldest(lambda coldest: round(coldest.mean_c, 3)),
    "coldest_night_error_c": _of_coldest(lambda coldest: round(coldest.error_c, 3)),
    "coldest_night_low_c": _of_coldest(lambda coldest: round(coldest.low_c, 3)),
    "coldest_night_high_c": _of_coldest(lambda coldest: round(coldest.high_c, 3)),
    "winters": _of_coldest(lambda coldest: coldest.years.size),
    "winters_from": _of_coldest(lambda coldest: int(coldest.years[0])),
    "winters_to": _of_coldest(lambda coldest: int(coldest.years[-1])),
    "no_zone": lambda climate: climate.unzoned,
}


def hemisphere_of(spread: DateSpread) -> str:
    """Name the side of the equator that a spread of dates is of.

    Examples
    --------
    >>> spread = DateSpread(start=NORTH, places=1, earliest=("A", "03-08"), latest=("A", "03-08"), days=0)
    >>> hemisphere_of(spread)
    'north'
    """
    return "north" if spread.start == NORTH else "south"
