"""Station to garden: how much colder the garden is on the nights that matter, and how sure that is."""

from frostgate.climate.siting.defaults import EXPOSURES, LAPSE, Assumed, ExposureName, default_offset
from frostgate.climate.siting.learning import learn_offset
from frostgate.climate.siting.offsets import GardenOffset
from frostgate.climate.siting.pairs import Pairs, find_shift, pair_up
from frostgate.climate.siting.stations import CombinedStations, Filled, combine_stations

__all__ = [
    "EXPOSURES",
    "LAPSE",
    "Assumed",
    "CombinedStations",
    "ExposureName",
    "Filled",
    "GardenOffset",
    "Pairs",
    "combine_stations",
    "default_offset",
    "find_shift",
    "learn_offset",
    "pair_up",
]
