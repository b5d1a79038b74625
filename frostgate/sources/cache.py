"""A site's fitted climate, kept between mornings."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import os
import threading
from dataclasses import asdict, fields
from importlib.util import source_hash
from pathlib import Path
from typing import Any

import numpy as np

from frostgate.errors import FrostgateError
from frostgate.model.records import BasisScore, FrostCurve, SiteClimate, Station, Trend, Weather, YearsChoice
from frostgate.seasons import SeasonStart

FORM = 6  # of the kept file; raise it when what is kept, or how it is made, changes
_DIGITS = 9


def key_of(content: bytes, **settings: object) -> str:
    """Name what is kept by the record's content and the settings that shape the curve."""
    told = json.dumps([FORM, sorted(settings.items())], default=str).encode()
    return source_hash(told + content).hex()  # 64 bits; hashlib would load OpenSSL, a moment of every morning


def load_site(folder: Path, key: str) -> SiteClimate | None:
    """Read a kept climate back, or return None where there is none that can be read whole."""
    try:
        kept = json.loads((folder / f"{key}.json").read_text(encoding="utf-8"))
        return _site(kept)
    except (OSError, ArithmeticError, ValueError, KeyError, TypeError, RecursionError, FrostgateError):
        return None


def keep_site(folder: Path, key: str, site: SiteClimate) -> bool:
    """Keep a climate for the next morning; return whether it could be written.

    The file is written beside its place and moved there whole, so two mornings at once do no harm.
    """
    part = folder / f"{key}.{os.getpid()}.{threading.get_ident()}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        part.write_text(json.dumps(_plain(site)), encoding="utf-8")
        part.replace(folder / f"{key}.json")
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        return False
    return True


def _plain(site: SiteClimate) -> dict[str, Any]:
    kept = {field.name: getattr(site, field.name) for field in fields(site)}
    return kept | {
        "station": asdict(site.station),
        "curve": _plain_curve(site.curve),
        "autumn": None if site.autumn is None else _plain_curve(site.autumn),
        "last_day": site.last_day.isoformat(),
        "years": None if site.years is None else asdict(site.years),
        "weather": None if site.weather is None else _plain_weather(site.weather),
    }


def _plain_curve(curve: FrostCurve) -> dict[str, Any]:
    kept = {field.name: getattr(curve, field.name) for field in fields(curve)}
    for name in ("risk", "low", "high", "spread_c"):
        kept[name] = None if kept[name] is None else np.round(kept[name], _DIGITS).tolist()
    return kept | {"start": asdict(curve.start)}


def _plain_weather(weather: Weather) -> dict[str, Any]:
    recent = [None if np.isnan(tmin_c) else tmin_c for tmin_c in np.round(weather.recent_c, _DIGITS).tolist()]
    return {
        "climatology_c": np.round(weather.climatology_c, _DIGITS).tolist(),
        "persistence": weather.persistence,
        "explained": weather.explained,
        "recent_c": recent,
        "last_day": weather.last_day.isoformat(),
    }


def _site(kept: dict[str, Any]) -> SiteClimate:
    return SiteClimate(
        **kept
        | {
            "station": Station(**kept["station"]),
            "curve": _curve(kept["curve"]),
            "autumn": None if kept["autumn"] is None else _curve(kept["autumn"]),
            "last_day": dt.date.fromisoformat(kept["last_day"]),
            "notes": tuple(kept["notes"]),
            "years": None if kept["years"] is None else _years(kept["years"]),
            "weather": None if kept["weather"] is None else _weather(kept["weather"]),
        }
    )


def _curve(kept: dict[str, Any]) -> FrostCurve:
    return FrostCurve(**kept | {"start": SeasonStart(**kept["start"])})


def _years(kept: dict[str, Any]) -> YearsChoice:
    scores = tuple(BasisScore(**score) for score in kept["scores"])
    return YearsChoice(**kept | {"scores": scores, "trend": Trend(**kept["trend"])})


def _weather(kept: dict[str, Any]) -> Weather:
    recent_c = [np.nan if tmin_c is None else tmin_c for tmin_c in kept["recent_c"]]
    return Weather(**kept | {"recent_c": recent_c, "last_day": dt.date.fromisoformat(kept["last_day"])})
