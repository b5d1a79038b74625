"""What the grower owns: sites, groups of pots, products and measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from pathlib import Path
from typing import Literal, TypeVar

from frostgate.errors import InputError
from frostgate.quantities import Units
from frostgate.terms.network import Network
from frostgate.terms.phases import NoFeeding, Phase, SeasonRules
from frostgate.terms.policy import Policy
from frostgate.terms.products import Product
from frostgate.values import dataclass

Stage = Literal["established", "newly potted", "cutting", "in the ground"]
Winters = Literal["outdoors", "sheltered", "unheated room", "heated room"]
STAGES: tuple[Stage, ...] = ("established", "newly potted", "cutting", "in the ground")
Named = TypeVar("Named", "PotGroup", Product)
WINTERS: tuple[Winters, ...] = ("outdoors", "sheltered", "unheated room", "heated room")


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A place, its station's record, its forecast, and the grower's numbers for the gate.

    Parameters
    ----------
    name
        As the grower calls it.
    record
        File of the station's daily minima; None takes that of ``station`` from the archive.
    forecast, forecast_url
        The coming nights, a file or an address; None without one.
    station, hemisphere, time_zone, unit
        As the options of the same name say; None lets the files tell.
    elevation_m
        Of the garden [m].
    policy
        The grower's numbers.

    Examples
    --------
    >>> Site(name="Hollin Bank").policy.risk_tolerance
    0.1
    """

    name: str
    record: Path | None = None
    forecast: Path | None = None
    forecast_url: str | None = None
    station: str | None = None
    hemisphere: Literal["north", "south"] | None = None
    time_zone: str | None = None
    unit: Literal["F", "C", "tenths-C"] | None = None
    elevation_m: float | None = None
    policy: Policy = field(default_factory=Policy)


@dataclass(frozen=True, slots=True, kw_only=True)
class PotGroup:
    """Trees that are fed alike.

    Parameters
    ----------
    name, tree
        As the grower calls the group, and the kind of tree.
    count
        How many.
    stage
        ``established``, ``newly potted``, ``cutting`` or ``in the ground``.
    pot_l
        Volume of one pot [L]; None in the ground.
    per_pot_l
        Feed solution for one pot [L]; None where the group gets none.
    height_m
        Of the trees [m], where a rate goes by height.
    winters
        Where they spend the winter.
    movable
        Whether they can be moved under cover.

    Raises
    ------
    InputError
        Where the count is not above 0, or a pot has no volume.

    Examples
    --------
    >>> PotGroup(name="old figs", tree="fig", count=24, stage="established", pot_l=26.5, per_pot_l=3.8,
    ...          winters="outdoors", movable=False).in_pots
    True
    """

    name: str
    tree: str
    count: int
    stage: Stage
    winters: Winters
    movable: bool
    pot_l: float | None = None
    per_pot_l: float | None = None
    height_m: float | None = None

    def __post_init__(self) -> None:
        if self.count < 1:
            raise InputError("a group has at least one tree", value=self.count)
        if self.in_pots and self.pot_l is None:
            raise InputError(f"the pots of {self.name!r} have no volume", remedy='Add pot = "7 gal".')

    @property
    def in_pots(self) -> bool:
        """Whether roots are in a container above ground."""
        return self.stage != "in the ground"

    @property
    def is_young(self) -> bool:
        """Whether roots are too young for full strength."""
        return self.stage in {"newly potted", "cutting"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scoop:
    """A measure the grower owns.

    Examples
    --------
    >>> Scoop(name="1.5 tbsp", volume_ml=22.18).name
    '1.5 tbsp'
    """

    name: str
    volume_ml: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Garden:
    """All that stands in a garden file.

    Parameters
    ----------
    file
        Where it stands; the journal stands beside it.
    sites
        At least one; the first is home.
    groups, products
        What is fed, and with what; names are unique.
    vessel_l
        Of the bucket or tank at hand [L]; None where not stated.
    scoops
        Measures at hand.
    no_feeding
        Local rules.
    phases
        The season's plan; empty takes the default made from the products.
    rules
        Limits of the season.
    network
        How far the network is asked.
    units
        In which the grower reads volumes and masses.
    currency
        Of prices.

    Examples
    --------
    >>> Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),)).home.name
    'Hollin Bank'
    """

    file: Path
    sites: tuple[Site, ...]
    groups: tuple[PotGroup, ...] = ()
    products: tuple[Product, ...] = ()
    vessel_l: float | None = None
    scoops: tuple[Scoop, ...] = ()
    no_feeding: tuple[NoFeeding, ...] = ()
    phases: tuple[Phase, ...] = ()
    rules: SeasonRules = field(default_factory=SeasonRules)
    network: Network = field(default_factory=Network)
    units: Units = "metric"
    currency: str = ""

    @property
    def home(self) -> Site:
        """The first site."""
        return self.sites[0]

    def product(self, name: str) -> Product:
        """Give a product by its name.

        Raises
        ------
        InputError
            Where there is none of that name.
        """
        return _named("product", self.products, name)

    def group(self, name: str) -> PotGroup:
        """Give a group of pots by its name.

        Raises
        ------
        InputError
            Where there is none of that name.
        """
        return _named("group", self.groups, name)


def _named(what: str, listed: Sequence[Named], name: str) -> Named:
    for one in listed:
        if one.name == name:
            return one
    known = ", ".join(one.name for one in listed) or "none is listed"
    raise InputError(f"no {what} of this name in the garden", value=name, remedy=f"Listed: {known}.")
