"""How far the network is asked: addresses, limits, and when what is kept has grown old."""

from __future__ import annotations

from frostgate.errors import InputError
from frostgate.values import dataclass

ARCHIVE = "https://www.ncei.noaa.gov/pub/data/ghcn/daily"  # GHCN-Daily, NOAA NCEI (Menne et al. 2012)


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Settings of the network that the grower may change.

    Parameters
    ----------
    archive
        Base address of the GHCN-Daily archive, or of a mirror of it; below it lie ``ghcnd-stations.txt``,
        ``ghcnd-inventory.txt`` and ``all/ID.dly``.
    list_days, record_days, forecast_hours
        A station list, a record and a forecast are fetched anew once they are older [d], [d], [h].
    wait_s
        The longest that one document may take, retries included [s].
    retries
        How often a failed request is tried again within that time.
    largest_mb
        No larger document is taken [MB].
    offline
        Use what is kept and ask nobody.

    Raises
    ------
    InputError
        Where a number cannot be meant.

    Examples
    --------
    >>> Network().record_days
    7.0
    """

    archive: str = ARCHIVE
    list_days: float = 90.0
    record_days: float = 7.0
    forecast_hours: float = 3.0
    wait_s: float = 10.0
    retries: int = 2
    largest_mb: float = 64.0
    offline: bool = False

    def __post_init__(self) -> None:
        if not self.archive.startswith(("http://", "https://")):
            raise InputError(
                "an address begins with https:// (or http://)", value=self.archive, remedy=f"Write {ARCHIVE}"
            )
        names = ("list_days", "record_days", "forecast_hours", "wait_s", "largest_mb")
        for name in names:
            if not 0.0 < getattr(self, name) < 1e5:
                raise InputError(f"{name.replace('_', ' ')} is above 0", value=getattr(self, name))
        if not 0 <= self.retries <= 10:
            raise InputError("retries lie between 0 and 10", value=self.retries)
