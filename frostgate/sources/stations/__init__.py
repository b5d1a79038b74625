"""Stations of the archive: the list of them, the nearest, and how well each would serve."""

from frostgate.sources.stations.counting import Counted, count_record
from frostgate.sources.stations.lists import (
    StationList,
    parse_inventory,
    parse_stations,
    read_stations,
)
from frostgate.sources.stations.nearest import Nearby, Place, find_nearest, great_circle_km
from frostgate.sources.stations.serving import HOW, Candidate, rank

__all__ = [
    "HOW",
    "Candidate",
    "Counted",
    "Nearby",
    "Place",
    "StationList",
    "count_record",
    "find_nearest",
    "great_circle_km",
    "parse_inventory",
    "parse_stations",
    "rank",
    "read_stations",
]
