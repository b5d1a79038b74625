"""What cannot be believed: records, forecasts and numbers held against what is usual, and against each other.

Plausible but wrong input is what opens a gate that should be shut: a forecast in °C that was in °F, a record
of another hemisphere, a thermometer on a warm wall. Each check has a name; what it finds makes the answer
unknown, until the grower says by that name that it is right.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

import numpy as np

from frostgate.gate.outlook import recent_anomaly
from frostgate.model.curves import SiteClimate
from frostgate.model.gate import Forecast, Policy, Reason
from frostgate.model.records import Station
from frostgate.seasons import NORTH, find_zone, split_dates

WARMEST_OFFSET_C = 6.0  # garden warmer than its station or forecast; a wall gives 1 °C: common practice
COLDEST_DAMAGE_C = -4.5  # 24 °F: below it the US National Weather Service speaks of a severe freeze
# Means of anomalies of minima: over 9 records of 28 to 150 years that of 14 nights was never above 4.7
# standard errors, that of 60 nights never above 1.9 spreads of single nights, counted so.
FARTHEST_MEAN = 3.5  # standard errors of the mean of the forecast's nights
# Of 48 000 nights of spring at the 7 stations where frost comes, 2 were milder than by 4 spreads.
COLDEST_NIGHT, MILDEST_NIGHT = 5.0, 4.0  # spreads of single nights
FARTHEST_RECENT = 2.0  # spreads of single nights, for the mean of 60
LONGEST_AFTER = dt.timedelta(days=50 * 366)
NIGHT_TO_NIGHT = 0.66
TROPICS = 10.0  # degrees from the equator within which there is no spring to speak of
FARTHEST_PLACE_KM = 300.0  # of a forecast from its station: three rows of a coarse global model; by choice
KM_OF_DEGREE = 111.2  # of latitude
MOST_HOURS_OFF = 4.0  # between a place's zone and the sun at its station: no zone in use differs by more


def find_doubts(
    site: SiteClimate, forecast: Forecast | None, policy: Policy, today: dt.date
) -> tuple[Reason, ...]:
    """Return what cannot be believed, less what the grower believes by its name."""
    found = [*site.doubts, *_of_numbers(policy), *_of_record(site, today)]
    if forecast is not None:
        found += [*_of_nights(site, forecast, policy), *_of_places(site, forecast)]
    return tuple(doubt for doubt in found if doubt.name not in policy.believed)


def _of_numbers(policy: Policy) -> Iterator[Reason]:
    for offset_c in {policy.offset_c, policy.garden_less_forecast_c}:
        if offset_c > WARMEST_OFFSET_C:
            yield Reason("doubt-offset", {"offset_c": offset_c})
    if policy.damage_temp_c < COLDEST_DAMAGE_C:
        yield Reason("doubt-damage-temp", {"damage_temp_c": policy.damage_temp_c})


def _of_record(site: SiteClimate, today: dt.date) -> Iterator[Reason]:
    if site.last_day > today + LONGEST_AFTER:  # past mornings may be asked about
        yield Reason("doubt-record-years", {"last_day": site.last_day})
    recent = None if site.weather is None else recent_anomaly(site.curve, site.weather, today)
    if recent is not None and abs(recent) > FARTHEST_RECENT:
        mean_sd_c = 1.0 if site.curve.spread_c is None else float(np.mean(site.curve.spread_c))
        yield Reason("doubt-recent-nights", {"off_c": recent * mean_sd_c})


def _of_nights(site: SiteClimate, forecast: Forecast, policy: Policy) -> Iterator[Reason]:
    """Hold the nights of a forecast against what is usual at the station, each and in the mean."""
    if site.weather is None or site.curve.spread_c is None:
        return
    known = np.isfinite(forecast.tmin_c)
    _, slot = split_dates(forecast.dates[known], site.curve.start)
    usual_c = site.weather.climatology_c[slot]
    at_station_c = forecast.tmin_c[known] + policy.garden_less_forecast_c - policy.offset_c
    spreads = (at_station_c - usual_c) / site.curve.spread_c[slot]
    mean_c = float(np.mean(at_station_c - usual_c))
    if abs(float(np.mean(spreads))) > FARTHEST_MEAN * _mean_error(spreads.size):
        yield Reason("doubt-forecast", {"off_c": mean_c, "nights": spreads.size})
        return
    farthest = np.maximum(spreads / MILDEST_NIGHT, -spreads / COLDEST_NIGHT)
    if farthest.max() > 1.0:
        worst = int(np.argmax(farthest))
        morning = forecast.dates[known][worst].astype(object)
        yield Reason("doubt-night", {"morning": morning, "off_c": float((at_station_c - usual_c)[worst])})


def _mean_error(nights: int) -> float:
    """Return the standard error of a mean of consecutive nights, in spreads of single nights."""
    apart = np.arange(1, nights)
    return math.sqrt((1.0 + 2.0 * float(np.sum((1.0 - apart / nights) * NIGHT_TO_NIGHT**apart))) / nights)


def _of_places(site: SiteClimate, forecast: Forecast) -> Iterator[Reason]:
    """Hold the forecast's place against the station's: the hemisphere, and the hours of sun and clock."""
    is_north = site.curve.start == NORTH
    zone = None if forecast.time_zone is None else find_zone(forecast.time_zone)
    latitude = forecast.latitude
    if latitude is None or abs(latitude) < TROPICS:
        lies_north = None if zone is None else _has_northern_summer(zone, forecast.dates[0].astype(object))
    else:
        lies_north = latitude > 0.0
    if lies_north is not None and lies_north != is_north:
        yield Reason("doubt-hemisphere", {"forecast": "north" if lies_north else "south"})
    elif zone is not None and site.station.longitude is not None:
        hours = hours_ahead(zone, forecast.dates[0].astype(object)) - site.station.longitude / 15.0
        off = abs((hours + 12.0) % 24.0 - 12.0)
        if off > MOST_HOURS_OFF:
            yield Reason("doubt-zone", {"zone": forecast.time_zone, "hours": off})
    apart_km = _apart_km(site.station, forecast)
    if lies_north in {None, is_north} and apart_km > FARTHEST_PLACE_KM:
        yield Reason("doubt-place", {"km": apart_km})


def _apart_km(station: Station, forecast: Forecast) -> float:
    """Return how far a forecast's place lies from the station [km], roughly; 0 where one is not known."""
    if station.latitude is None or station.longitude is None:
        return 0.0
    if forecast.latitude is None or forecast.longitude is None:
        return 0.0
    east = (forecast.longitude - station.longitude + 180.0) % 360.0 - 180.0
    north = forecast.latitude - station.latitude
    return KM_OF_DEGREE * math.hypot(north, east * math.cos(math.radians(station.latitude)))


def _has_northern_summer(zone: dt.tzinfo, day: dt.date) -> bool | None:
    """Tell the hemisphere of a zone by when its clocks are ahead; None where they never are."""
    january, july = (hours_ahead(zone, day.replace(month=month, day=1)) for month in (1, 7))
    return None if january == july else july > january


def hours_ahead(zone: dt.tzinfo, day: dt.date) -> float:
    """Return how far a zone's clocks are ahead of UTC at noon of a day [h]."""
    ahead = dt.datetime.combine(day, dt.time(12), zone).utcoffset() or dt.timedelta(0)
    return ahead / dt.timedelta(hours=1)
