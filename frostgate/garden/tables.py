"""The tables of a garden file: validators that return the noun each describes; what they refuse, in words."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, TypeVar, get_args

from pydantic import AfterValidator as By
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    field_validator,
)
from pydantic_core import PydanticCustomError

from frostgate.errors import GardenFileError, InputError
from frostgate.feeding.labels import make_product
from frostgate.feeding.phases import ONCE_DAYS
from frostgate.garden import written
from frostgate.garden.statements import Place, Statements
from frostgate.model.feedings import Anchor, NoFeeding, Phase, Portion, Product, ProductForm, SeasonRules
from frostgate.model.garden import Garden, Network, PotGroup, Scoop, Site, Stage, Winters
from frostgate.model.gate import LIMITS, Doubt, Policy
from frostgate.seasons import parse_month_day
from frostgate.units import Units, say_volume

if TYPE_CHECKING:
    Info = ValidationInfo["_Known"]  # an older pydantic's is no generic at run time

_NOT_IN_THE_GROUND = {"pot_l": "have none", "movable": "are not"}
_POLICY = {number.name for number in fields(Policy)}
_FORMS: tuple[ProductForm, ...] = get_args(ProductForm)
KEYS = written.examples()  # of each table, the top's under the empty name; None for a table


@dataclass(frozen=True, slots=True)
class _Known:
    """What one table is held against: the rest of the file."""

    values: dict[str, Any]  # of the whole file, as they stand there
    seen: dict[tuple[str, object], Any] = field(default_factory=dict)  # what may stand only once
    products: dict[str, Product] = field(default_factory=dict)  # those without a mistake

    def names(self, table: str) -> list[str] | None:
        """Return the names in tables of one kind, or None where one of them cannot be told."""
        names = [name for (kind, _), name in self.seen.items() if kind == table]
        tables = self.values.get(table, [])
        are_all = len(names) == (len(tables) if isinstance(tables, list) else 1)
        return names if are_all and self.values.keys() <= KEYS[""].keys() else None


def _lacks(key: str, hint: str = "") -> PydanticCustomError:
    """Make the mistake of a key that only what stands beside it makes necessary."""
    return PydanticCustomError("missing", "{key}", {"key": key, "hint": hint})


def _once(kind: str, told: Callable[[Any], object] = str.casefold) -> By:
    """Let a thing of one kind, or its name, stand only once in the file."""

    def _check(value: object, info: Info) -> object:
        if (kind, told(value)) in info.context.seen:
            raise InputError("it stands twice", remedy="Leave it once, or give each a name of its own.")
        info.context.seen[kind, told(value)] = value
        return value

    return By(_check)


def _named_in(table: str, missing: str) -> By:
    """Let only a name stand that one of the file's tables has."""

    def _check(name: str, info: Info) -> str:
        known = info.context.names(table)
        if known is not None and name not in known:
            raise InputError(missing, remedy=suggest(name, known))
        return name

    return By(_check)


def _key(alias: str | None = None, **more: Any) -> Any:  # noqa: ANN401  # as pydantic types its Field
    """Let a key be left out."""
    return Field(None, alias=alias, **more)


def _within(number: str) -> dict[str, Any]:
    """Return the bounds of one of the policy's numbers, as `_key` takes them."""
    return dict(zip(("ge", "le"), LIMITS[number], strict=True))


def _scoop(text: str) -> Scoop:
    return Scoop(name=text, volume_ml=written.parse_scoop_l(text) * 1000.0)


def _forecast(text: str) -> Path | str:
    return written.parse_address(text) if written.is_address(text) else Path(written.parse_file_name(text))


def _as_written(stated: object, check: ValidatorFunctionWrapHandler) -> object:
    check(stated)
    return stated


Number = Annotated[
    float, WrapValidator(_as_written)
]  # a whole number stays whole, in the JSON of a garden too
LONG = Field(max_length=written.LONGEST_FILE_NAME)
Name = Annotated[str, By(written.parse_name)]
FileName = Annotated[str, LONG, By(lambda text: Path(written.parse_file_name(text)))]
Forecast = Annotated[str, LONG, By(_forecast)]
Difference = Annotated[str, By(written.parse_offset_c)]
Risk = Annotated[str, By(written.parse_tolerance)]
MonthDay = Annotated[str, By(parse_month_day)]
AScoop = Annotated[str, By(_scoop), _once("scoops", lambda scoop: scoop.volume_ml)]
AGroup = Annotated[Name, _named_in("pots", "no group of pots has this name")]
AProduct = Annotated[Name, _named_in("product", "none of this name is listed")]


class _Table(BaseModel):
    """A table of the file: no other keys, nothing turned into another type."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False,
                              str_max_length=written.LONGEST_TEXT)  # fmt: skip

    noun: ClassVar[Callable[..., object]] = dict  # what the table describes
    otherwise: ClassVar[dict[str, Any]] = {}  # where it leaves out what the noun needs

    def stated(self) -> dict[str, Any]:
        """Return what the file states, as read, under the names of the noun's fields."""
        return {name: value for name, value in self if name in self.model_fields_set}

    def make(self) -> object:
        """Return the noun."""
        return type(self).noun(**self.otherwise | self.stated())


def _make(table: _Table, info: Info) -> object:
    """Return a table's noun, and let the phases know the products."""
    noun = table.make()
    if isinstance(noun, Product):
        info.context.products[noun.name] = noun
    return noun


ATable = TypeVar("ATable", bound=_Table)
One = Annotated[ATable, By(_make)]
Several = Annotated[
    list[One[ATable]],
    BeforeValidator(lambda stated: [stated] if isinstance(stated, dict) else stated),
    By(tuple),
]


class _SiteTable(_Table):
    name: Annotated[Name, _once("site")]
    elevation_m: Annotated[str, By(written.parse_elevation_m)] = _key("elevation")
    record: FileName = _key()
    forecast: Forecast = _key()
    station: Name = _key()
    hemisphere: Literal["north", "south"] = _key()
    time_zone: Annotated[str, By(written.parse_zone)] = _key()
    unit: Literal["F", "C", "tenths-C"] = _key()
    forecast_unit: Literal["F", "C"] = _key()
    risk_tolerance: Risk = _key("risk")
    damage_temp_c: Annotated[str, By(written.parse_damage_temp_c)] = _key("damage_temp")
    offset_c: Difference = _key("offset")
    offset_sd_c: Annotated[str, By(written.parse_spread_c)] = _key("offset_spread")
    forecast_offset_c: Difference = _key("forecast_offset")
    first_exposed_days: int = _key("exposed_from", **_within("first_exposed_days"))
    max_age_hours: float = _key(**_within("max_age_hours"))
    believed: Annotated[list[Doubt], By(tuple)] = _key("believe")

    def make(self) -> Site:
        """Return the site."""
        stated = self.stated()
        policy = {name: stated.pop(name) for name in _POLICY & stated.keys()}
        if isinstance(stated.get("forecast"), str):
            stated["forecast_url"] = stated.pop("forecast")
        return Site(**stated, policy=Policy(**policy))


class _PotsTable(_Table):
    noun = PotGroup
    otherwise = {"winters": "outdoors", "movable": False}
    name: Annotated[Name, _once("pots")]
    tree: Name
    count: int = Field(ge=1, le=100_000)
    stage: Stage
    winters: Winters | None = _key(validate_default=True)
    pot_l: Annotated[str, By(written.parse_pot_l)] | None = _key("pot", validate_default=True)
    per_pot_l: Annotated[str, By(written.parse_per_pot_l)] = _key("per_pot")
    height_m: Annotated[str, By(written.parse_height_m)] = _key("height")
    movable: bool = _key()

    @field_validator("winters", "pot_l", "movable")
    @classmethod
    def _suits_the_stage(cls, stated: object, info: Info) -> object:
        stage, key = info.data.get("stage"), str(info.field_name)
        if stage == "in the ground" and stated and key in _NOT_IN_THE_GROUND:
            what = f"trees in the ground {_NOT_IN_THE_GROUND[key]}"
            raise InputError(what, remedy="Leave it out, or write another stage.")
        if stage not in {None, "in the ground"} and stated is None:
            raise _lacks(key.removesuffix("_l"))
        return stated

    @field_validator("per_pot_l")
    @classmethod
    def _fits_the_pot(cls, per_pot_l: Any, info: Info) -> Any:  # noqa: ANN401  # as pydantic hands it over
        pot_l = info.data.get("pot_l")
        if pot_l is not None and per_pot_l > pot_l:
            units: Units = "us" if info.context.values.get("units") == "us" else "metric"
            remedy = f"The pot holds {say_volume(pot_l, units)}."
            raise InputError("more solution than the pot holds", remedy=remedy)
        return per_pot_l


class _ProductTable(_Table):
    noun = staticmethod(make_product)
    name: Annotated[Name, _once("product")]
    form: ProductForm
    analysis: str
    density: str = _key()
    density_from: Literal["measured", "label"] = _key()
    organic: bool = _key()
    secondary: dict[str, float] = _key()
    rate: str = _key()
    most: str = _key()
    ec: str = _key()
    pack: str = _key()
    price: Number = _key(ge=0, le=1e6)

    @field_validator("analysis", "density", "density_from", "secondary", "rate", "most", "ec", "pack")
    @classmethod
    def _try(cls, stated: Any, info: Info) -> Any:  # noqa: ANN401  # as pydantic hands it over
        """Make the product of this and what was right before it, so that each mistake is named by itself."""
        before = info.data
        if info.field_name == "density_from" and before.get("density", "wrong") is None:
            raise _lacks("density", "; density_from tells where it is from")
        label: dict[str, Any] = {name: told for name, told in before.items() if told is not None}
        label[str(info.field_name)] = stated
        if "density" not in before and info.field_name != "density":
            label.pop("density_from", None)
        faults = []
        for form in (before["form"],) if "form" in before else _FORMS:
            try:
                check_rates(make_product(**{"analysis": "1-1-1"} | label | {"name": "it", "form": form}))
            except InputError as fault:
                faults.append(fault)
            else:
                return stated
        raise faults[0]


def check_rates(product: Product) -> None:
    """Refuse rates that do not suit the form of a product."""
    for stated in (product.rate, product.most):
        if stated is not None and (stated.per == "litre") == (product.form == "granular"):
            in_water = stated.per != "litre"
            how = "water, such as 2 tsp/gal" if in_water else "pot or by height, such as 5 tsp/pot"
            what = f"not a rate for a {product.form} product"
            raise InputError(what, value=stated.text, remedy=f"It goes by {how}.")


class _ToolsTable(_Table):
    vessel_l: Annotated[str, By(written.parse_vessel_l)] = _key("bucket")
    scoops: Annotated[list[AScoop], By(tuple)] = _key()
    water_ec_ms_cm: Number = _key("water_ec", ge=0, le=10)


class _NoFeedingTable(_Table):
    noun = NoFeeding
    name: Annotated[Name, _once("no_feeding")]
    first: MonthDay = Field(alias="from")
    last: MonthDay = Field(alias="to")


class _PortionTable(_Table):
    noun = Portion
    product: AProduct
    strength: Annotated[str, By(written.parse_strength)] = _key()
    n_ppm: Number = _key(ge=1, le=2000)


class _PhaseTable(_Table):
    noun = Phase
    otherwise = {"after_days": 0, "every_days": ONCE_DAYS}
    name: Annotated[Name, _once("phase")]
    kind: Literal["liquid", "top-dressing"]
    anchor: Anchor = Field(alias="starts")
    after_days: Annotated[str, By(written.parse_days)] = _key("after")
    feedings: int = _key(ge=1, le=366)
    every_days: Annotated[str, By(written.parse_interval)] | None = _key("every", validate_default=True)
    portions: Several[_PortionTable] = Field(alias="feed", min_length=1)
    groups: Annotated[list[AGroup], By(tuple)] = _key()

    @field_validator("every_days")
    @classmethod
    def _every_or_once(cls, every_days: object, info: Info) -> object:
        if every_days is None and info.data.get("feedings", 1) != 1 and "kind" in info.data:
            raise _lacks("every", "; only a phase of one feeding needs none")
        return every_days

    @field_validator("portions")
    @classmethod
    def _usable(cls, portions: Any, info: Info) -> Any:  # noqa: ANN401  # as pydantic hands it over
        for portion in portions:
            product = info.context.products.get(portion.product)
            if product is not None and "kind" in info.data:
                _check_use(portion, info.data["kind"], product)
        return portions


def _check_use(portion: Portion, kind: str, product: Product) -> None:
    is_measured, write_full = portion.n_ppm is not None, 'Write strength = "full".'
    if (kind == "top-dressing") != (product.form == "granular"):
        suits = "granular" if kind == "top-dressing" else "soluble or liquid"
        what = f"a {kind} phase cannot use a {product.form} product"
        raise InputError(what, value=product.name, remedy=f"It takes a product that is {suits}.")
    if not is_measured and product.rate is None:
        what = f"{(portion.strength or 0.0) * 100.0:g} % of a rate that the product does not state"
        raise InputError(what, value=product.name, remedy=f"Add the rate of {product.name!r}.")
    if is_measured and kind == "top-dressing":
        raise InputError("a top-dressing is no solution", value=f"n_ppm = {portion.n_ppm}", remedy=write_full)
    if is_measured and product.analysis.n == 0.0:
        what = f"{product.name!r} holds no nitrogen"
        raise InputError(what, value=product.analysis.grade, remedy=write_full)


class _RulesTable(_Table):
    noun = SeasonRules
    stop_weeks: Number = _key(ge=0, le=40)
    least_days: int = _key(ge=1, le=90)
    n_per_pot_g: Annotated[str, By(written.parse_nitrogen_g)] = _key("n_per_pot")
    ec_limit_ms_cm: Number = _key("ec_limit", ge=0.1, le=20)
    autumn_risk: Risk = _key()


class _NetworkTable(_Table):
    noun = Network
    archive: Annotated[str, By(written.parse_address)] = _key()
    record_days: Number = _key(ge=0.01, le=3650)
    forecast_hours: Number = _key(ge=0.01, le=1000)
    wait_s: Number = _key(ge=0.1, le=600)
    retries: int = _key(ge=0, le=10)
    offline: bool = _key()
    redirects: Annotated[list[Name], By(tuple)] = _key()


class _GardenTable(_Table):
    """The whole file; the products stand before the phases, which are held against them."""

    units: Units = _key()
    currency: Name = _key()
    sites: Several[_SiteTable] = Field(alias="site", min_length=1)
    groups: Several[_PotsTable] = _key("pots")
    products: Several[_ProductTable] = _key("product")
    tools: One[_ToolsTable] = _key()
    no_feeding: Several[_NoFeedingTable] = _key()
    phases: Several[_PhaseTable] = _key("phase")
    rules: One[_RulesTable] = _key()
    network: One[_NetworkTable] = _key()

    def make(self) -> Garden:
        """Return the garden, its files as they are written."""
        stated = self.stated()
        tools: dict[str, Any] = stated.pop("tools", {})
        water_ec_ms_cm = tools.pop("water_ec_ms_cm", None)
        rules = replace(stated.pop("rules", SeasonRules()), water_ec_ms_cm=water_ec_ms_cm)
        return Garden(file=Path(), **stated, **tools, rules=rules)


def read_tables(said: Statements, file: Path) -> Garden:
    """Return the garden that a file's statements describe, or name every mistake in it."""
    mistakes = list(said.faults)
    if said.values is not None:
        try:
            garden = _GardenTable.model_validate(said.values, context=_Known(said.values)).make()
        except ValidationError as error:
            mistakes += _explain(error, said)
        if not mistakes:
            return garden
    raise GardenFileError(file, mistakes)


_TABLE = "a table"
_KINDS = {
    "string_type": "a text in quotes",
    "string_too_long": "a shorter text",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a number",
    "bool_type": "true or false",
    "list_type": "a list in brackets",
    "dict_type": "a table in braces",
    "model_type": _TABLE,
    "model_attributes_type": _TABLE,
    "greater_than_equal": "{ge:g} or more",
    "less_than_equal": "{le:g} or less",
}  # what is wanted, by pydantic's name of the error


def _explain(refused: ValidationError, said: Statements) -> Iterator[InputError]:
    """Say pydantic's errors in the grower's words, each with its line; what is misspelt is not missing."""
    errors = [
        # pydantic names a default by its field, not by its key
        ((*error["loc"][:-1], error.get("ctx", {}).get("key", error["loc"][-1])), error)
        for error in refused.errors(include_url=False)
    ]
    meant = {
        (*place[:-1], _nearest(str(place[-1]), KEYS[_table_and_key(place)[0]]))
        for place, error in errors
        if error["type"] == "extra_forbidden"
    }
    for place, error in errors:
        if error["type"] != "missing" or (place not in meant and place[-1] not in said.lost):
            fault = _say(*_table_and_key(place), error["type"], error["input"], error.get("ctx", {}))
            yield fault.but(line=said.line_of(place))


def _table_and_key(place: Place) -> tuple[str, str]:
    """Return the table that a value stands in, the top's name being empty, and the value's key."""
    *outer, key = (part for part in place if isinstance(part, str))
    return next((part for part in reversed(outer) if part in KEYS), ""), key


def _say(table: str, key: str, kind: str, stated: object, details: Mapping[str, Any]) -> InputError:
    """Say what is wrong with what is stated, and what to do."""
    value, example, is_table = say_value(stated), KEYS[table].get(key), not table and key in KEYS
    remedy = f"Write it as {key} = {example}." if example else None
    if is_table:
        remedy = f"Write {_named(key)} on a line of its own, and its keys below."
    wanted = _TABLE if is_table else _KINDS.get(kind, "another value").format_map(details)
    what = f"{key}: {wanted} is wanted"
    if kind == "value_error":  # one of our own
        fault = details["error"]
        value = fault.value or (None if value == _TABLE else value)
        what, remedy = f"{key}: {fault.what}", fault.remedy or remedy
    elif kind == "extra_forbidden":
        what = "no such table" if value == _TABLE and not table else f"no such key {_inside(table)}"
        value, remedy = key, _where_else(key, table)
    elif kind == "missing":
        value, what = None, f"no {_named(key)} in the file" if is_table else f"{_named(table)} lacks {key!r}"
        remedy = remedy if is_table else f"Add {key} = {example}{details.get('hint', '')}."
    elif kind == "literal_error":
        words = details["expected"].replace(" or ", ", ").replace("'", "").split(", ")
        what, remedy = f"{key}: not one of the words that can stand here", suggest(str(value), words)
    elif kind == "too_short":
        what, value = f"{key}: an empty list", None
    return InputError(what, value=value, remedy=remedy)


def say_value(value: object) -> str | None:
    """Write a value of the file as it may be shown; tables and lists only by their kind."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict) or (isinstance(value, list) and value and isinstance(value[0], dict)):
        return _TABLE
    if isinstance(value, list):
        return "a list"
    try:
        return None if value is None else str(value)
    except ValueError:  # a number of more digits than Python writes
        return "a number of thousands of digits"


def _where_else(key: str, table: str) -> str:
    nearest = _nearest(key, KEYS[table])
    if nearest:
        return f'Did you mean "{nearest}"?'
    others = [_inside(name) for name, named in KEYS.items() if key in named]
    return f"It belongs {' or '.join(others)}." if others else suggest(key, KEYS[table])


def _inside(table: str) -> str:
    return f"in {_named(table)}" if table else "at the top of the file, above the first table"


def _named(table: str) -> str:
    if table == "feed":
        return "a product of feed"
    return f"[{table}]" if table in {"tools", "rules", "network"} else f"[[{table}]]"


def suggest(wrong: str, known: Iterable[str]) -> str:
    """Say which word may have been meant, and which there are."""
    words = list(known)
    nearest = _nearest(wrong, words)
    question = f'Did you mean "{nearest}"? ' if nearest else ""
    return f"{question}Possible: {', '.join(words) or 'none'}."


def _nearest(wrong: str, known: Iterable[str]) -> str | None:
    alike = {word.lower().replace("-", "_"): word for word in known}
    close = difflib.get_close_matches(wrong.lower().replace("-", "_"), alike, n=1)
    return alike[close[0]] if close else None
