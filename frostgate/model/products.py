"""What pots are fed with: a product's analysis, form, density and label rates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from frostgate.errors import InputError
from frostgate.units import Per

Element = Literal["N", "P", "K", "Mg", "S", "Ca"]
ELEMENTS: tuple[Element, ...] = ("N", "P", "K", "Mg", "S", "Ca")
ProductForm = Literal["soluble", "liquid", "granular"]
DensityFrom = Literal["measured", "label", "default"]

# From the atomic weights of IUPAC 2021: 2 x 30.974 / 141.943 and 2 x 39.098 / 94.195.
P_IN_P2O5 = 0.43643
K_IN_K2O = 0.83015


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """A label's guaranteed analysis [% by mass]: N, P2O5 and K2O as labels state them, the rest as elements.

    Raises
    ------
    InputError
        Where a share is no percentage, or they exceed 100 % together.

    Examples
    --------
    >>> shares = Analysis(n=17, p2o5=5, k2o=9).shares
    >>> [(element, round(share, 4)) for element, share in shares.items() if share]
    [('N', 0.17), ('P', 0.0218), ('K', 0.0747)]
    """

    n: float = 0.0
    p2o5: float = 0.0
    k2o: float = 0.0
    mg: float = 0.0
    s: float = 0.0
    ca: float = 0.0
    trace: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        stated = [self.n, self.p2o5, self.k2o, self.mg, self.s, self.ca, *(share for _, share in self.trace)]
        if not all(0.0 <= share <= 100.0 for share in stated) or sum(stated) > 100.0:
            raise InputError("an analysis is given in % by mass, 100 together at most", value=self.grade)

    @property
    def grade(self) -> str:
        """The label's three numbers, N-P2O5-K2O."""
        return f"{self.n:g}-{self.p2o5:g}-{self.k2o:g}"

    @property
    def shares(self) -> dict[Element, float]:
        """Mass share of each element, P and K no longer as oxides."""
        percent = (self.n, self.p2o5 * P_IN_P2O5, self.k2o * K_IN_K2O, self.mg, self.s, self.ca)
        return {element: share / 100.0 for element, share in zip(ELEMENTS, percent, strict=True)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """So much product for each litre of water, each pot or each metre of a tree's height."""

    grams: float  # of product, for one of per [g]
    per: Per
    text: str  # as the label, or the grower, wrote it
    by_mass: bool  # whether that states a mass, so that its reader weighs

    def __post_init__(self) -> None:
        if not (0.0 < self.grams < math.inf):
            raise InputError("a rate is above 0", value=self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A fertilizer as its label describes it.

    Parameters
    ----------
    name : as the grower calls it
    analysis : what it holds
    form : ``soluble`` (a powder for water), ``liquid`` (a concentrate) or ``granular`` (laid on the soil)
    density_g_ml : mass of a spoon's fill over its volume [g/mL]
    density_from : ``measured`` by the grower, stated on the ``label``, or a ``default``, off by up to a fifth
    rate, most : the label's rate, and the largest that it allows; None where the label states none
    organic : whether its nitrogen must first be broken down in the soil
    ec_ms_cm_per_g_l : electrical conductivity that one gram in a litre adds [mS/cm]; None where not stated
    pack_g, price : size of a package [g] and what it costs; None where not stated

    Raises
    ------
    InputError
        Where no fertilizer has such a density.
    """

    name: str
    analysis: Analysis
    form: ProductForm
    density_g_ml: float
    density_from: DensityFrom
    rate: Rate | None
    most: Rate | None = None
    organic: bool = False
    ec_ms_cm_per_g_l: float | None = None
    pack_g: float | None = None
    price: float | None = None

    @property
    def weighed(self) -> bool:
        """Whether the label states its rate by mass."""
        return self.rate is not None and self.rate.by_mass

    def __post_init__(self) -> None:
        if not 0.05 <= self.density_g_ml <= 5.0:
            raise InputError("no fertilizer has such a density [g/mL]", value=self.density_g_ml)
