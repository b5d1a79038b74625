"""What is forecast for the coming nights."""

from __future__ import annotations

import datetime as dt

import numpy as np

from frostgate.errors import InputError
from frostgate.terms.arrays import Dates, Floats, frozen_copy
from frostgate.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast:
    """Forecast minima of the coming nights, each dated by the local morning it ends on.

    Parameters
    ----------
    source
        The file, for messages.
    form
        The form it came in, in words.
    issued_at
        When it was made, local time of the place, without zone.
    issued_stated
        Whether the file tells when it was made; else ``issued_at`` is the earliest it can have been.
    time_zone
        The place's time zone, where the file tells.
    dates
        Mornings, strictly rising, shape (n,).
    tmin_c
        Forecast minimum [°C], shape (n,); NaN where the forecast has none.
    sd_c
        The forecast's own spread [°C], shape (n,); NaN where it states none.
    notes
        What the reader took for granted, in words.

    Raises
    ------
    InputError
        Where there is no night at all, lengths differ or dates do not rise.

    Examples
    --------
    >>> forecast = Forecast(source="f.csv", form="table", issued_at=dt.datetime(2026, 4, 1, 6),
    ...                     dates=["2026-04-02"], tmin_c=[1.5], sd_c=[np.nan])
    >>> forecast.through
    datetime.date(2026, 4, 2)
    """

    source: str
    form: str
    issued_at: dt.datetime
    dates: Dates
    tmin_c: Floats
    sd_c: Floats
    issued_stated: bool = True
    time_zone: str | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "dates", frozen_copy(self.dates, "datetime64[D]"))
        for name in ("tmin_c", "sd_c"):
            object.__setattr__(self, name, frozen_copy(getattr(self, name), np.float64))
        if not self.dates.shape == self.tmin_c.shape == self.sd_c.shape or self.dates.size == 0:
            raise InputError("a forecast needs a minimum for each of its nights", file=self.source)
        if not bool(np.all(np.diff(self.dates).astype(int) > 0)):
            raise InputError("the dates of a forecast must rise, each day once", file=self.source)

    @property
    def through(self) -> dt.date:
        """The last morning it tells of."""
        last: dt.date = self.dates[-1].astype(object)
        return last
