"""What the grower owns and writes down: sites, groups of pots, the garden, entries of the journal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args

from frostgate.errors import InputError
from frostgate.model.feedings import NoFeeding, Phase, Product, SeasonRules
from frostgate.model.gate import Policy
from frostgate.units import TemperatureUnit, Units

ARCHIVE = "https://www.ncei.noaa.gov/pub/data/ghcn/daily"  # GHCN-Daily, NOAA NCEI (Menne et al. 2012)


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Settings of the network that the grower may change."""

    archive: str = ARCHIVE  # or a mirror: ghcnd-stations.txt, ghcnd-inventory.txt and all/ID.dly lie below it
    list_days: float = 90.0  # a station list is fetched anew once it is older [d]
    record_days: float = 7.0  # a record [d]
    forecast_hours: float = 3.0  # a forecast [h]
    wait_s: float = 10.0  # the longest that one document may take, retries included [s]
    retries: int = 2  # of a failed request within that time
    largest_mb: float = 64.0  # no larger document is taken [MB]
    offline: bool = False  # use what is kept and ask nobody
    redirects: tuple[str, ...] = ()  # other sites that an address may lead on to, by their names

    def __post_init__(self) -> None:
        if not self.archive.startswith(("http://", "https://")):
            raise InputError(
                "an address begins with https:// (or http://)", value=self.archive, remedy=f"Write {ARCHIVE}"
            )


Stage = Literal["established", "newly potted", "cutting", "in the ground"]
Winters = Literal["outdoors", "sheltered", "unheated room", "heated room"]
STAGES: tuple[Stage, ...] = get_args(Stage)
WINTERS: tuple[Winters, ...] = get_args(Winters)
Named = TypeVar("Named", "PotGroup", Product)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A place, its station's record and forecast, and the grower's numbers; None lets the files tell."""

    name: str
    record: Path | None = None  # the station's daily minima; None takes those of station from the archive
    forecast: Path | None = None  # the coming nights, a file
    forecast_url: str | None = None  # or an address
    station: str | None = None
    hemisphere: Literal["north", "south"] | None = None
    time_zone: str | None = None
    unit: Literal["F", "C", "tenths-C"] | None = None  # of a record that does not state its own
    forecast_unit: Literal["F", "C"] | None = None  # of a forecast that does not
    elevation_m: float | None = None  # of the garden [m]
    policy: Policy = field(default_factory=Policy)


@dataclass(frozen=True, slots=True, kw_only=True)
class PotGroup:
    """Trees that are fed alike.

    Parameters
    ----------
    name, tree : as the grower calls the group, and the kind of tree
    count : how many
    stage : ``established``, ``newly potted``, ``cutting`` or ``in the ground``
    pot_l : volume of one pot [L]; None in the ground
    per_pot_l : feed solution for one pot [L]; None where the group gets none
    height_m : of the trees [m], where a rate goes by height
    winters : where they spend the winter: ``outdoors``, ``sheltered``, ``unheated room`` or ``heated room``
    movable : whether they can be moved under cover

    Raises
    ------
    InputError
        Where the count is not above 0, or a pot has no volume.
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
            raise InputError(f"the pots of {self.name!r} have no volume", remedy='Add pot = "9 gal".')

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
    """A measure the grower owns."""

    name: str
    volume_ml: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Garden:
    """All that stands in a garden file; the journal stands beside it.

    Parameters
    ----------
    file : where it stands
    sites : at least one; the first is home
    groups, products : what is fed, and with what; names are unique
    vessel_l : of the bucket or tank at hand [L]; None where not stated
    scoops : measures at hand
    no_feeding : local rules
    phases : the season's plan; empty takes the default made from the products
    rules : limits of the season
    network : how far the network is asked
    units : in which the grower reads volumes and masses
    currency : of prices
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

    @property
    def temperature_unit(self) -> TemperatureUnit:
        """The unit in which the grower reads temperatures."""
        return "F" if self.units == "us" else "C"

    def product(self, name: str) -> Product:
        """Return a product by its name."""
        return _named("product", self.products, name)

    def group(self, name: str) -> PotGroup:
        """Return a group of pots by its name."""
        return _named("group", self.groups, name)


def _named(what: str, listed: Sequence[Named], name: str) -> Named:
    for one in listed:
        if one.name == name:
            return one
    known = ", ".join(one.name for one in listed) or "none is listed"
    raise InputError(f"no {what} of this name in the garden", value=name, remedy=f"Listed: {known}.")


EntryKind = Literal[
    "feeding", "bud break", "fruit set", "growth", "damage", "minimum", "forecast", "verdict", "undo"
]
ENTRY_KINDS: tuple[EntryKind, ...] = get_args(EntryKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of the journal.

    Parameters
    ----------
    id : a name that no other entry has, in any journal (a UUID as text)
    made_at : when it was written, local time of the garden without zone
    on : the day it tells of
    kind : what it tells
    group : of which group of pots; None for the whole garden
    body : its facts as plain JSON values, by kind: *feeding*: ``phase``, ``feeding_kind``, ``doses``
        (``product``, ``grams``), ``n_per_pot_mg``, ``pots``; *minimum*: ``tmin_c``; *forecast*: ``source``,
        ``issued_at``, ``nights`` (``morning``, ``tmin_c``, ``sd_c``); *verdict*: ``state``, ``risk_today``,
        ``earliest_date``, ``risk_tolerance``, ``reasons``, ``inputs``; *bud break*, *fruit set*, *growth*,
        *damage*: ``note``
    undoes : the entry that an *undo* takes back; None for every other kind
    """

    id: str
    made_at: dt.datetime
    on: dt.date
    kind: EntryKind
    group: str | None = None
    body: Mapping[str, Any] = field(default_factory=dict)
    undoes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Damaged:
    """An entry of the journal that is not as it was written, or cannot be read."""

    number: int  # its place in the journal, from 1
    name: str  # its kind, day and id, as far as they can be read
    text: str  # what still stands in it
