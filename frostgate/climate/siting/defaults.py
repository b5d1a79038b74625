"""What to take for a garden's difference from its station where nothing was measured: a wide default.

Two parts are added: the difference in elevation at the lapse rate of *minima*, and the garden's exposure.
Each number stands beside its source, and the spread says how little it is worth.
"""

from __future__ import annotations

import math
from typing import Literal

from frostgate.climate.siting.offsets import GardenOffset
from frostgate.errors import InputError
from frostgate.values import dataclass

ExposureName = Literal["open", "wall", "low"]

NO_SOURCE = "common practice, no source"
HIGHEST_DIFFERENCE_M = 3000.0
UNKNOWN_ELEVATION_SD_M = 150.0  # of garden less station; common practice, no source
NIGHT_SCATTER_C = 1.5  # of single nights about the offset; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """A number that is assumed, not measured.

    Parameters
    ----------
    value, sd
        The number, and the standard deviation of what it may be instead.
    words
        What it stands for.
    source
        Where both come from.

    Examples
    --------
    >>> Assumed(value=1.0, sd=1.5, words="sheltered by a wall", source="common practice, no source").value
    1.0
    """

    value: float
    sd: float
    words: str
    source: str


# °C per km of height. In inversions the garden above the station is the warmer one, so the spread reaches 0.
LAPSE = Assumed(
    value=-3.0,
    sd=3.0,
    words="minima fall by about 3 °C per km of height, not by 6.5 °C, and rise with height in inversions",
    source="Minder, Mote & Lundquist 2010, J. Geophys. Res.: late-summer minima 2.5 to 3.5, annual mean 3.9 "
    "to 5.2 °C/km; the spread: common practice, no source",
)
# °C, garden less an open station at the same height, on clear calm nights.
EXPOSURES: dict[ExposureName, Assumed] = {
    "open": Assumed(value=0.0, sd=1.5, words="open, as the station", source=NO_SOURCE),
    "wall": Assumed(value=1.0, sd=1.5, words="sheltered by a wall, so warmer", source=NO_SOURCE),
    "low": Assumed(
        value=-6.0 / 1.8,
        sd=8.0 / 1.8 / (2 * 1.645),  # the range taken for the middle 90 %
        words="low-lying, where cold air gathers, so colder",
        source="2 to 10 °F colder: from memory",
    ),
}


def default_offset(
    elevation_difference_m: float | None = None, exposure: ExposureName | None = None
) -> GardenOffset:
    """Give the difference to take where no minima were measured in the garden.

    Parameters
    ----------
    elevation_difference_m
        Garden less station [m]; None where it is not known, which widens the spread.
    exposure
        ``open``, ``wall`` or ``low``; None where it is not stated: any of the three is then as likely.

    Raises
    ------
    InputError
        Where the difference is no height of one neighbourhood, or the exposure is none of the three.

    Examples
    --------
    >>> default = default_offset(100.0, "open")
    >>> round(default.offset_c, 2), round(default.sure_c, 2)
    (-0.3, 1.53)
    >>> default_offset().sure_c > default_offset(0.0, "open").sure_c
    True
    """
    site = _exposed(exposure)
    rise_km, unknown_km = _height(elevation_difference_m)
    lapse_var = (LAPSE.sd * rise_km) ** 2 + (LAPSE.value**2 + LAPSE.sd**2) * unknown_km**2
    return GardenOffset(
        offset_c=LAPSE.value * rise_km + site.value,
        sure_c=math.sqrt(lapse_var + site.sd**2),
        scatter_c=NIGHT_SCATTER_C,
        basis=f"{_say_height(elevation_difference_m)}; exposure {site.words}",
        sources=(
            f"lapse rate of minima: {LAPSE.source}",
            f"exposure: {site.source}",
            f"scatter of single nights: {NO_SOURCE}",
        ),
    )


def _exposed(name: ExposureName | None) -> Assumed:
    if name is None:
        return _any_exposure()
    if name not in EXPOSURES:
        raise InputError(
            "no such exposure", value=name, remedy=f"Choose one of {', '.join(EXPOSURES)}, or state none."
        )
    return EXPOSURES[name]


def _any_exposure() -> Assumed:
    """Mix the exposures evenly: their mean, and a spread that holds what parts them."""
    kinds = tuple(EXPOSURES.values())
    mean = sum(kind.value for kind in kinds) / len(kinds)
    square = sum(kind.sd**2 + kind.value**2 for kind in kinds) / len(kinds)
    return Assumed(
        value=mean,
        sd=math.sqrt(square - mean**2),
        words="not stated: open, sheltered and low-lying taken as equally likely, hence a wider spread",
        source=f"{NO_SOURCE}; of the low-lying one from memory",
    )


def _height(difference_m: float | None) -> tuple[float, float]:
    """Give the rise from station to garden, and the spread of a rise that is not known, both [km]."""
    if difference_m is None:
        return 0.0, UNKNOWN_ELEVATION_SD_M / 1000.0
    if not abs(difference_m) <= HIGHEST_DIFFERENCE_M:
        raise InputError(
            "a garden and its station do not differ that much in height",
            value=f"{difference_m:g} m",
            remedy="Check both elevations and their units, or take a nearer station.",
        )
    return difference_m / 1000.0, 0.0


def _say_height(difference_m: float | None) -> str:
    if difference_m is None:
        return "difference in elevation not known, so none is applied and the spread is wider"
    if abs(difference_m) < 0.5:
        return "garden as high as the station"
    side = "above" if difference_m > 0 else "below"
    return f"garden {abs(difference_m):.0f} m {side} the station"
