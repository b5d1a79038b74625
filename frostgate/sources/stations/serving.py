"""How well a station would serve a garden: by how many days its middle date of last frost is likely off.

Every part is a spread in days, and parts are added as squares. What distance and elevation do was learned
from the public normals of 1981-2010 (middle dates of the last 32 °F freeze of 5,198 stations, 130,811 pairs
within 150 km; `tests/reference/test_stations_reference.py` measures them again).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from frostgate.climate.siting.defaults import UNKNOWN_ELEVATION_SD_M
from frostgate.sources.stations.counting import Counted
from frostgate.sources.stations.nearest import Nearby
from frostgate.values import dataclass

NEXT_DOOR_DAYS = 8.8  # root mean square between neighbours of one height; learned
KM_PER_SQUARE_DAY = 3.0  # each of these kilometres adds one squared day; learned
DAYS_PER_100_M = 4.5  # learned
SPRING_SD_DAYS = 12.0  # of one spring's date about the middle one; median of 4,940 stations of those normals
MEDIAN_OVER_MEAN = 1.2533  # standard error of a median to that of a mean, in a Gaussian
ENOUGH_SPRINGS = 30  # the length of a climate normal (WMO); more are not counted as better
DAYS_PER_YEAR_ENDED = 0.2  # how dates move in a changing climate; from memory
FEWEST_YEARS = 10  # common practice, no source
ENDED_LONG_AGO_YEARS = 10  # common practice, no source

HOW = (
    "By how many days a station's middle date of last frost is likely off in your garden, the least first: "
    "distance, elevation, springs and years since its end, added as squares.\n"
    f"Distance: √({NEXT_DOOR_DAYS:g}² + km/{KM_PER_SQUARE_DAY:g}) days; elevation: {DAYS_PER_100_M:g} days "
    "for each 100 m (learned from the US freeze normals of 1981-2010, dates of 32 °F).\n"
    f"Springs: {SPRING_SD_DAYS:g} days (the same normals) × {MEDIAN_OVER_MEAN:g} / √springs, no more than "
    f"{ENOUGH_SPRINGS} counted; where a record was not counted, its years stand for springs.\n"
    f"A record that has ended: {DAYS_PER_YEAR_ENDED:g} days for each year (from memory).\n"
    f"Listed last: fewer than {FEWEST_YEARS} years, or ended more than {ENDED_LONG_AGO_YEARS} years before "
    "(common practice, no source).\n"
    f"An unknown elevation counts as a difference of {UNKNOWN_ELEVATION_SD_M:g} m (common practice, no "
    "source)."
).splitlines()


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A station as it would serve.

    Parameters
    ----------
    near
        The station and where it lies.
    off_days
        By how many days its dates are likely off [d].
    reason
        Why it is listed below the others; None where it is not.
    counted
        What its record holds; None where no record is kept.

    Examples
    --------
    >>> from frostgate.sources.stations.lists import example_list
    >>> from frostgate.sources.stations.nearest import Place, find_nearest
    >>> near = find_nearest(example_list(), Place(latitude=51.0, longitude=-2.5, elevation_m=112.0))
    >>> [(one.near.station.id, round(one.off_days, 1)) for one in rank(near, 2026)]
    [('XX000000017', 9.2), ('XX000000018', 17.5)]
    """

    near: Nearby
    off_days: float
    reason: str | None = None
    counted: Counted | None = None


def rank(
    nearby: Iterable[Nearby], to_year: int, counted: Mapping[str, Counted] | None = None
) -> tuple[Candidate, ...]:
    """Put stations in the order in which they would serve, those with a reason against them last.

    Parameters
    ----------
    nearby
        The stations.
    to_year
        The year that a record should reach.
    counted
        What kept records hold, by station id.

    Examples
    --------
    >>> rank((), 2026)
    ()
    """
    known = counted or {}
    candidates = [_judge(near, to_year, known.get(near.station.id)) for near in nearby]
    return tuple(sorted(candidates, key=lambda one: (one.reason is not None, one.off_days)))


def _judge(near: Nearby, to_year: int, counted: Counted | None) -> Candidate:
    last_year = near.last_year if counted is None else counted.last.year
    springs = near.years
    if counted is not None and counted.springs is not None:
        springs = counted.springs
    ended_years = max(to_year - last_year, 0)
    return Candidate(
        near=near,
        off_days=likely_off_days(near.distance_km, near.rise_m, springs, ended_years),
        reason=_against(springs, last_year, ended_years, known=counted is not None),
        counted=counted,
    )


def likely_off_days(distance_km: float, rise_m: float | None, springs: int, ended_years: int) -> float:
    """Give by how many days a station's middle date of last frost is likely off [d].

    Parameters
    ----------
    distance_km
        From the garden [km].
    rise_m
        The garden less the station [m]; None where it is not known.
    springs
        With a known last frost.
    ended_years
        How long ago the record ended.

    Examples
    --------
    >>> round(likely_off_days(10.0, 100.0, 30, 0), 1)
    10.4
    """
    height_m = UNKNOWN_ELEVATION_SD_M if rise_m is None else abs(rise_m)
    sampling = MEDIAN_OVER_MEAN * SPRING_SD_DAYS / math.sqrt(min(max(springs, 1), ENOUGH_SPRINGS))
    return math.sqrt(
        NEXT_DOOR_DAYS**2
        + distance_km / KM_PER_SQUARE_DAY
        + (DAYS_PER_100_M * height_m / 100.0) ** 2
        + sampling**2
        + (DAYS_PER_YEAR_ENDED * ended_years) ** 2
    )


def _against(springs: int, last_year: int, ended_years: int, *, known: bool) -> str | None:
    reasons = []
    if ended_years > ENDED_LONG_AGO_YEARS:
        reasons.append(f"its minima end in {last_year}")
    if springs < FEWEST_YEARS:
        reasons.append(f"only {springs} {'springs known' if known else 'years of minima'}")
    return "; ".join(reasons) or None
