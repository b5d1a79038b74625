"""The texts of a label: analyses, rates, densities and conductivities, as they are written."""

from __future__ import annotations

import math
import re

from frostgate.errors import InputError
from frostgate.patterns import pattern
from frostgate.quantities import Quantity, WrittenRate, parse_quantity, parse_rate
from frostgate.terms.products import Analysis, Rate

EC_UNITS_MS_CM = {"ms/cm": 1.0, "ds/m": 1.0, "mmho/cm": 1.0, "us/cm": 0.001, "µs/cm": 0.001, "μs/cm": 0.001}
HIGHEST_EC_MS_CM = 20.0

NUMBER = r"(?:\d{1,9}(?:\.\d{1,12})?|\.\d{1,12})"
GRADE = rf"({NUMBER})\s*[-–]\s*({NUMBER})\s*[-–]\s*({NUMBER})"
_EC_UNIT = r"([a-zµμ]+/[a-z]+)"
_EC = pattern(rf"\s*({NUMBER})\s*{_EC_UNIT}\s*", re.IGNORECASE)
_AT = pattern(r"\s+(?:at|for|per)\s+", re.IGNORECASE)
_PPM_N = pattern(rf"({NUMBER})\s*ppm\s*(?:of\s+)?n\s*", re.IGNORECASE)
_FRACTION = pattern(r"(?:(\d{1,9})\s+)?(\d{1,9})\s*/\s*(\d{1,9})(?=\s*[a-z])", re.IGNORECASE)
_PER = pattern(r"\s+per\s+|(?<=[a-z])\.?\s*/\s*", re.IGNORECASE)


def parse_grade(text: str) -> tuple[float, float, float]:
    """Read the three numbers of a label, N-P2O5-K2O [%].

    Raises
    ------
    InputError
        Where they are not three numbers.

    Examples
    --------
    >>> parse_grade("24-8-16")
    (24.0, 8.0, 16.0)
    """
    match = re.fullmatch(rf"\s*{GRADE}\s*", text)
    if match is None:
        raise InputError("not an analysis", value=text, remedy="Write N-P2O5-K2O, such as 24-8-16.")
    return float(match[1]), float(match[2]), float(match[3])


def parse_written_rate(text: str) -> WrittenRate:
    """Read a rate whose numbers may be fractions, such as ``1/2 tbsp/gal``.

    Raises
    ------
    InputError
        Where either side cannot be read.

    Examples
    --------
    >>> round(parse_written_rate("1/2 tbsp/gal").quantity.amount, 3)
    1.953
    """
    decimal = _FRACTION().sub(_as_decimal, text)
    try:
        return parse_rate(" per ".join(_PER().split(decimal.strip(), maxsplit=1)))
    except InputError as error:
        raise InputError(error.what, value=text, remedy=error.remedy) from None


def read_rate(text: str, density_g_ml: float) -> Rate:
    """Read a label's rate, its spoons weighed by the density.

    Raises
    ------
    InputError
        Where it cannot be read.

    Examples
    --------
    >>> read_rate("4 ml/l", 1.1).grams, read_rate("2 g/l", 1.1).by_mass
    (4.4, True)
    """
    written = parse_written_rate(text)
    by_mass = written.quantity.measure == "mass"
    return Rate(grams=weigh(written.quantity, density_g_ml), per=written.per, text=text, by_mass=by_mass)


def weigh(quantity: Quantity, density_g_ml: float) -> float:
    """Give the mass of a quantity [g]; a volume is weighed by its density.

    Examples
    --------
    >>> weigh(Quantity(10.0, "volume"), 1.2), weigh(Quantity(10.0, "mass"), 1.2)
    (12.0, 10.0)
    """
    return quantity.amount * (density_g_ml if quantity.measure == "volume" else 1.0)


def weigh_measured(text: str, density_g_ml: float) -> float:
    """Weigh what was measured out, such as ``3 tbsp``, ``2 x 1.5 tbsp + 1/2 tsp`` or ``50 g`` [g].

    Raises
    ------
    InputError
        Where it cannot be read.

    Examples
    --------
    >>> weigh_measured("2 x 5 ml + 1 ml", 1.0)
    11.0
    """
    try:
        return math.fsum(_weigh_scoops(" ".join(part.split()), density_g_ml) for part in text.split("+"))
    except InputError as error:
        remedy = "Write it as 3 tbsp, 2 x 1.5 tbsp, 1 tbsp + 1/2 tsp or 50 g."
        raise InputError(error.what, value=text, remedy=remedy) from None


def parse_density_g_ml(text: str) -> float:
    """Read a density in [g/mL], such as ``6 g/tsp`` or ``1.1 g/ml``.

    Raises
    ------
    InputError
        Where it is none, or no fertilizer's.

    Examples
    --------
    >>> round(parse_density_g_ml("6 g/tsp"), 3)
    1.217
    """
    mass, *volume = _PER().split(text.strip(), maxsplit=1)
    try:
        density_g_ml = parse_quantity(mass, "mass").amount / parse_quantity("".join(volume), "volume").amount
    except InputError:
        raise InputError("not a density", value=text, remedy="Write it as 6 g/tsp or as 1.1 g/ml.") from None
    if not 0.05 <= density_g_ml <= 5.0:
        raise InputError("no fertilizer has such a density", value=text, remedy="Check its units.")
    return density_g_ml


def parse_ec_ms_cm(text: str) -> float:
    """Read an electrical conductivity in [mS/cm]; a bare number is one.

    Raises
    ------
    InputError
        Where it is no such number, or above 20 mS/cm, which no feed is.

    Examples
    --------
    >>> parse_ec_ms_cm("0.4"), parse_ec_ms_cm("400 µS/cm")
    (0.4, 0.4)
    """
    bare = re.fullmatch(rf"\s*{NUMBER}\s*", text)
    match = _EC().fullmatch(f"{text} mS/cm" if bare else text)
    factor = None if match is None else EC_UNITS_MS_CM.get(match[2].lower())
    if match is None or factor is None:
        raise InputError("not a conductivity", value=text, remedy="Write it as 0.4 mS/cm.")
    ec_ms_cm = float(match[1]) * factor
    if ec_ms_cm > HIGHEST_EC_MS_CM:
        raise InputError("no feed conducts so well", value=text, remedy="Check its unit: it is mS/cm.")
    return ec_ms_cm


def read_ec_per_g_l(text: str, analysis: Analysis, density_g_ml: float) -> float:
    """Read what one gram in a litre adds to the conductivity [mS/cm], from a line of a label's table.

    Parameters
    ----------
    text
        Such as ``0.64 mS/cm at 100 ppm N`` or ``0.85 mS/cm at 1 g/l``.
    analysis, density_g_ml
        Of the product.

    Raises
    ------
    InputError
        Where it cannot be read, or goes by the nitrogen of a product without any.

    Examples
    --------
    >>> read_ec_per_g_l("0.64 mS/cm at 100 ppm N", Analysis(n=20), 1.2)
    1.28
    """
    conductivity, *solution = _AT().split(text, maxsplit=1)
    try:
        ec_ms_cm = parse_ec_ms_cm(conductivity)
        grams_l = _grams_l("".join(solution), analysis, density_g_ml)
    except InputError:
        remedy = "Write it as 0.64 mS/cm at 100 ppm N, or as 0.85 mS/cm at 1 g/l."
        raise InputError("not a conductivity of a solution", value=text, remedy=remedy) from None
    return ec_ms_cm / grams_l


def _grams_l(text: str, analysis: Analysis, density_g_ml: float) -> float:
    match = _PPM_N().fullmatch(text)
    if match is None:
        rate = read_rate(text, density_g_ml)
        if rate.per != "litre":
            raise InputError("not a solution", value=text)
        return rate.grams
    if analysis.n == 0.0 or float(match[1]) == 0.0:
        raise InputError("no nitrogen to go by", value=text)
    return float(match[1]) / (10.0 * analysis.n)


def _weigh_scoops(text: str, density_g_ml: float) -> float:
    counted = re.fullmatch(r"\s*(\d{1,4})\s*[x×]\s*(.+)", text, re.IGNORECASE)
    count, scoop = (int(counted[1]), counted[2]) if counted else (1, text)
    return count * weigh(parse_quantity(scoop, "volume", "mass"), density_g_ml)


def _as_decimal(match: re.Match[str]) -> str:
    whole, over, under = (int(part or 0) for part in match.groups())
    return f"{whole + over / under:.10g}" if under else match[0]
