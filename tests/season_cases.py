"""An invented garden and its season, for tests of the programme."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from frostgate.feeding.season import plan_season
from frostgate.model.feedings import (
    Analysis,
    Done,
    Feeding,
    Product,
    Programme,
    Rate,
    SeasonFacts,
    SeasonRules,
)
from frostgate.model.garden import Garden, PotGroup, Site

GATE = dt.date(2026, 5, 16)
FIRST_FROST = dt.date(2026, 10, 3)
STOP = dt.date(2026, 8, 15)  # seven weeks earlier
DAY = dt.timedelta(days=1)


def product(name: str, n: float, p2o5: float, k2o: float, **rest: Any) -> Product:
    """A soluble product of one gram a litre, unless told otherwise."""
    grams, per = rest.pop("grams", 1.0), rest.pop("per", "litre")
    rate = Rate(grams=grams, per=per, text=f"{grams} g a {per}", by_mass=True) if grams else None
    analysis = Analysis(n=n, p2o5=p2o5, k2o=k2o, mg=rest.pop("mg", 0.0), ca=rest.pop("ca", 0.0))
    usual = {"form": "soluble", "density_g_ml": 1.0, "density_from": "label"}
    return Product(name=name, analysis=analysis, rate=rate, **(usual | rest))


FIRST = product("First feed", 17, 5, 9)
STEADY = product("Steady feed", 12, 11, 13)
RIPENING = product("Ripening feed", 6, 7, 21)
SALT = product("Epsom salt", 0, 0, 0, mg=9.86)
GRAINS = product("Grains", 8, 7, 9, form="granular", grams=30.0, per="pot")
MEAL = product("Meal", 6, 4, 5, form="granular", grams=200.0, per="metre", organic=True)
PRODUCTS = (FIRST, STEADY, RIPENING, SALT, GRAINS, MEAL)


def group(name: str = "plums", **rest: Any) -> PotGroup:
    """Five established plums in pots, unless told otherwise."""
    usual: dict[str, Any] = {
        "tree": "plum",
        "count": 5,
        "stage": "established",
        "pot_l": 34.0,
        "per_pot_l": 4.0,
        "winters": "outdoors",
        "movable": False,
    }
    return PotGroup(name=name, **(usual | rest))


ROW = group("row", stage="in the ground", pot_l=None, per_pot_l=None, height_m=2.0)


def garden(
    groups: Sequence[PotGroup] = (group(),), products: Sequence[Product] = PRODUCTS, **rest: Any
) -> Garden:
    """The garden of Hollin Bank, an invented place."""
    rules = {key: rest.pop(key) for key in ("stop_weeks", "least_days", "n_per_pot_g") if key in rest}
    hemisphere = rest.pop("hemisphere", "north")
    return Garden(
        file=Path("garden.toml"),
        sites=(Site(name="Hollin Bank", hemisphere=hemisphere),),
        groups=tuple(groups),
        products=tuple(products),
        rules=SeasonRules(**rules),
        **rest,
    )


def facts(today: dt.date = GATE, **rest: Any) -> SeasonFacts:
    """The gate opened, or will open, on 16 May 2026; its first autumn frost comes on 3 October."""
    usual: dict[str, Any] = {"gate": GATE, "first_autumn_frost": FIRST_FROST}
    known = usual | rest
    known.setdefault("gate_open", known["gate"] is not None and known["gate"] <= today)
    return SeasonFacts(today=today, **known)


def fed(on: dt.date, **rest: Any) -> Done:
    """A liquid feeding of the plums that was done."""
    return Done(on=on, **({"group": "plums", "phase": None, "kind": "liquid"} | rest))


def to_come(
    programme: Programme, phase: str | None = None, kind: str = "liquid", of: str = "plums"
) -> tuple[Feeding, ...]:
    """The feedings of one group that are not done."""
    return tuple(
        feeding
        for feeding in programme.feedings
        if feeding.group == of
        and feeding.kind == kind
        and feeding.status != "done"
        and phase in {None, feeding.phase}
    )


def dates(feedings: Sequence[Feeding]) -> list[str]:
    """When, as month and day."""
    return [f"{feeding.date:%m-%d}" if feeding.date else "none" for feeding in feedings]


def plan(today: dt.date = GATE, **rest: Any) -> Programme:
    """Plan the usual garden from other facts."""
    return plan_season(garden(), facts(today, **rest))
