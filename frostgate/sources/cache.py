"""A site's fitted climate, kept between mornings."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from frostgate.files import kept_or_made, key_of
from frostgate.model.records import BasisScore, FrostCurve, SiteClimate, Station, Trend, Weather, YearsChoice
from frostgate.seasons import SeasonStart

FORM = 7  # of what is kept; raise it when a kept climate would come out differently
_NOUNS = (SiteClimate, Station, FrostCurve, SeasonStart, YearsChoice, BasisScore, Trend, Weather)


def kept_site(
    folder: Path, content: bytes, make: Callable[[], SiteClimate], **settings: object
) -> SiteClimate:
    """Return the climate that a record and the settings make, as an earlier morning kept it or made and kept.

    ``content`` is the record's; nothing that shapes the climate may be missing from ``settings``.
    """
    return kept_or_made(folder, key_of(content, form=FORM, **settings), make, _NOUNS)
