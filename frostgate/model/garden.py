"""What the grower owns and writes down: sites, groups of pots, the garden, entries of the journal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args

from frostgate.errors import InputError
from frostgate.model.feedings import NoFeeding, Phase, SeasonRules
from frostgate.model.gate import Policy
from frostgate.model.products import Product
from frostgate.units import Units

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
    id
        A name that no other entry has, in any journal (a UUID as text).
    made_at
        When it was written, local time of the garden without zone.
    on
        The day it tells of.
    kind
        What it tells.
    group
        Of which group of pots; None for the whole garden.
    body
        Its facts as plain JSON values; which, by kind: *feeding*: ``phase``, ``feeding_kind``, ``doses`` (a
        list of ``product``, ``grams``), ``n_per_pot_mg``, ``pots``; *minimum*: ``tmin_c``; *forecast*:
        ``source``, ``issued_at``, ``nights`` (a list of ``morning``, ``tmin_c``, ``sd_c``); *verdict*:
        ``state``, ``risk_today``, ``earliest_date``, ``risk_tolerance``, ``reasons``, ``inputs``; *bud
        break*, *fruit set*, *growth*, *damage*: ``note``.
    undoes
        The entry that an *undo* takes back; None for every other kind.

    Examples
    --------
    >>> Entry(id="1", made_at=dt.datetime(2026, 4, 12, 7), on=dt.date(2026, 4, 12), kind="minimum",
    ...       body={"tmin_c": -1.1}).group is None
    True
    """

    id: str
    made_at: dt.datetime
    on: dt.date
    kind: EntryKind
    group: str | None = None
    body: Mapping[str, Any] = field(default_factory=dict)
    undoes: str | None = None
