"""The garden file read, checked and made into nouns."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import os
import threading
from collections.abc import Callable, Iterator
from dataclasses import MISSING, fields, is_dataclass
from importlib.util import source_hash
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    ValidationInfo,
    field_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from frostgate.errors import InputError
from frostgate.feeding.labels import make_product
from frostgate.feeding.phases import ONCE_DAYS
from frostgate.garden import written
from frostgate.garden.contradictions import find_contradictions
from frostgate.garden.mistakes import GardenFileError, Mistake, Statements, read_statements
from frostgate.garden.written import LISTS, explain, is_address, parse_archive, parse_forecast
from frostgate.model.feedings import Anchor, NoFeeding, Phase, Portion, SeasonRules
from frostgate.model.garden import ARCHIVE, Garden, Network, PotGroup, Scoop, Site, Stage, Winters
from frostgate.model.gate import Policy
from frostgate.model.products import Analysis, Product, ProductForm, Rate
from frostgate.units import parse_offset

IN_WORDS = "in words"  # type of the errors that carry a reader's own words
FORMS: tuple[ProductForm, ...] = ("soluble", "liquid", "granular")


def _refuse(error: InputError) -> PydanticCustomError:
    said = {"what": error.what, "value": error.value, "remedy": error.remedy}
    return PydanticCustomError(IN_WORDS, "{what}", said)


def _read_by(read: Callable[[str], object]) -> AfterValidator:
    """Check a text by its reader, and leave it as it is written."""

    def _check(text: str) -> str:
        try:
            read(text)
        except InputError as error:
            raise _refuse(error) from None
        return text

    return AfterValidator(_check)


def _between(low: float, high: float) -> Any:  # noqa: ANN401  # as pydantic types its Field
    return Field(ge=low, le=high)


def _like(example: str, **more: Any) -> Any:  # noqa: ANN401  # as pydantic types its Field
    return Field(examples=[example], **more)


def _fault_of(label: dict[str, Any]) -> InputError | None:
    try:
        make_product(name="it", **label)
    except InputError as error:
        return error
    return None


Name = Annotated[str, _read_by(written.parse_name)]
FileName = Annotated[str, Field(max_length=written.LONGEST_FILE_NAME), _read_by(written.parse_file_name)]
Forecast = Annotated[str, Field(max_length=written.LONGEST_FILE_NAME), _read_by(parse_forecast)]
Offset = Annotated[str, _read_by(parse_offset)]
MonthDay = Annotated[str, _read_by(written.parse_month_day)]


class _Stated(BaseModel):
    """A table of the file: no other keys, nothing turned into another type."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False,
                              str_max_length=written.LONGEST_TEXT)  # fmt: skip


class _SiteStated(_Stated):
    """A ``[[site]]``."""

    name: Name = _like('"Hollin Bank"')
    elevation: Annotated[str, _read_by(written.parse_elevation_m)] | None = _like('"1020 ft"', default=None)
    record: FileName | None = _like('"oskelmere.dly"', default=None)
    forecast: Forecast | None = _like('"forecast.csv"', default=None)
    station: Name | None = _like('"XX000000017"', default=None)
    hemisphere: Literal["north", "south"] | None = None
    time_zone: Annotated[str, _read_by(written.parse_zone)] | None = _like('"UTC-05:00"', default=None)
    unit: Literal["F", "C", "tenths-C"] | None = None
    risk: Annotated[str, _read_by(written.parse_tolerance)] | None = _like('"10%"', default=None)
    damage_temp: Annotated[str, _read_by(written.parse_damage_temp_c)] | None = _like('"32F"', default=None)
    offset: Offset | None = _like('"-2F"', default=None)
    offset_spread: Annotated[str, _read_by(written.parse_spread_c)] | None = _like('"1.5F"', default=None)
    forecast_offset: Offset | None = _like('"-2F"', default=None)
    exposed_from: Annotated[int, _between(0, 7)] | None = _like("1", default=None)
    max_age_hours: Annotated[float, _between(1, 1000)] | None = _like("48", default=None)


class _PotsStated(_Stated):
    """A ``[[pots]]``."""

    name: Name = _like('"old figs"')
    tree: Name = _like('"fig"')
    count: Annotated[int, _between(1, 100_000)] = _like("12")
    stage: Stage
    winters: Winters | None = None
    pot: Annotated[str, _read_by(written.parse_pot_l)] | None = _like('"7 gal"', default=None)
    per_pot: Annotated[str, _read_by(written.parse_per_pot_l)] | None = _like('"1 gal"', default=None)
    height: Annotated[str, _read_by(written.parse_height_m)] | None = _like('"6 ft"', default=None)
    movable: bool = _like("true", default=False)


class _ProductStated(_Stated):
    """A ``[[product]]``; each text of the label is tried by itself, so that each mistake is named."""

    name: Name = _like('"Spring feed"')
    form: ProductForm
    analysis: str = _like('"24-8-16"')
    rate: str | None = _like('"1 tbsp/gal"', default=None)
    most: str | None = _like('"1 tbsp/gal"', default=None)
    density: str | None = _like('"6 g/tsp"', default=None)
    density_from: Literal["measured", "label"] | None = None
    organic: bool = _like("false", default=False)
    secondary: dict[str, float] | None = _like("{ Mg = 2.0, S = 3.0 }", default=None)
    ec: str | None = _like('"0.64 mS/cm at 100 ppm N"', default=None)
    pack: str | None = _like('"5 lb"', default=None)
    price: Annotated[float, _between(0, 1e6)] | None = _like("12.50", default=None)

    @field_validator("analysis", "rate", "most", "density", "secondary", "ec", "pack")
    @classmethod
    def _try(cls, stated: Any, info: ValidationInfo) -> Any:  # noqa: ANN401  # as pydantic hands it over
        label = {"analysis": "1-1-1", "form": info.data.get("form")}
        if info.field_name != "secondary" and "analysis" in info.data:
            label["analysis"] = info.data["analysis"]
        forms = FORMS if label["form"] is None else (label["form"],)
        faults = [_fault_of(label | {"form": form, str(info.field_name): stated}) for form in forms]
        if all(faults):
            raise _refuse(next(fault for fault in faults if fault))
        return stated


class _ToolsStated(_Stated):
    """The ``[tools]``."""

    bucket: Annotated[str, _read_by(written.parse_vessel_l)] | None = _like('"5 gal"', default=None)
    scoops: list[Annotated[str, _read_by(written.parse_scoop_l)]] = _like('["1 tbsp", "1 tsp"]', default=[])
    water_ec: Annotated[float, _between(0, 10)] | None = _like("0.4", default=None)


class _NoFeedingStated(_Stated):
    """A ``[[no_feeding]]``."""

    name: Name = _like('"local rule"')
    first: MonthDay = _like('"11-15"', alias="from")
    last: MonthDay = _like('"03-01"', alias="to")


class _PortionStated(_Stated):
    """One product of a phase."""

    product: Name = _like('"Spring feed"')
    strength: Annotated[str, _read_by(written.parse_strength)] | None = _like('"full"', default=None)
    n_ppm: Annotated[float, _between(1, 2000)] | None = _like("150", default=None)


class _PhaseStated(_Stated):
    """A ``[[phase]]``."""

    name: Name = _like('"wake-up"')
    kind: Literal["liquid", "top-dressing"]
    starts: Anchor
    after: Annotated[str, _read_by(written.parse_days)] = _like('"28 days"', default="0 days")
    every: Annotated[str, _read_by(written.parse_interval)] | None = _like('"10 days"', default=None)
    feedings: Annotated[int, _between(1, 366)] | None = _like("2", default=None)
    feed: list[_PortionStated] = _like('[{ product = "Spring feed", strength = "full" }]', min_length=1)
    groups: list[Name] = _like('["old figs"]', default=[])


class _RulesStated(_Stated):
    """The ``[rules]``."""

    stop_weeks: Annotated[float, _between(0, 40)] | None = _like("7", default=None)
    least_days: Annotated[int, _between(1, 90)] | None = _like("7", default=None)
    n_per_pot: Annotated[str, _read_by(written.parse_nitrogen_g)] | None = _like('"6 g"', default=None)
    ec_limit: Annotated[float, _between(0.1, 20)] | None = _like("3.0", default=None)
    autumn_risk: Annotated[str, _read_by(written.parse_tolerance)] | None = _like('"10%"', default=None)


class _NetworkStated(_Stated):
    """The ``[network]``."""

    archive: Annotated[str, _read_by(parse_archive)] | None = _like(f'"{ARCHIVE}"', default=None)
    record_days: Annotated[float, _between(0.01, 3650)] | None = _like("7", default=None)
    forecast_hours: Annotated[float, _between(0.01, 1000)] | None = _like("3", default=None)
    wait_s: Annotated[float, _between(0.1, 600)] | None = _like("10", default=None)
    retries: Annotated[int, _between(0, 10)] | None = _like("2", default=None)
    offline: bool = _like("false", default=False)


class GardenStated(_Stated):
    """The whole file."""

    units: Literal["us", "metric"] = "metric"
    currency: Name = _like('"USD"', default="")
    site: list[_SiteStated] = Field(min_length=1)
    pots: list[_PotsStated] = []
    product: list[_ProductStated] = []
    tools: _ToolsStated = _ToolsStated()
    no_feeding: list[_NoFeedingStated] = []
    phase: list[_PhaseStated] = []
    rules: _RulesStated = _RulesStated()
    network: _NetworkStated = _NetworkStated()


def _example(field: FieldInfo) -> str | None:
    if field.examples:
        return str(field.examples[0])
    words = [word for part in (field.annotation, *get_args(field.annotation)) for word in get_args(part)]
    return " or ".join(f'"{word}"' for word in words if isinstance(word, str)) or None


def _keys_of(model: type[_Stated]) -> dict[str, str | None]:
    """Return the keys of a table, each with an example of its value, None for a table."""
    return {field.alias or name: _example(field) for name, field in model.model_fields.items()}


KEYS = {
    "": _keys_of(GardenStated),
    "site": _keys_of(_SiteStated),
    "pots": _keys_of(_PotsStated),
    "product": _keys_of(_ProductStated),
    "tools": _keys_of(_ToolsStated),
    "no_feeding": _keys_of(_NoFeedingStated),
    "phase": _keys_of(_PhaseStated),
    "feed": _keys_of(_PortionStated),
    "rules": _keys_of(_RulesStated),
    "network": _keys_of(_NetworkStated),
}  # of each table, the top's under the empty name


Table = dict[str, Any]


def make_garden(values: Table, file: Path) -> Garden:
    """Make a garden of plain values; files are named from the garden file's own folder."""
    tools, rules = values.get("tools", {}), values.get("rules", {})
    return Garden(
        file=file,
        sites=tuple(_site(table, file.parent) for table in values["site"]),
        groups=tuple(_group(table) for table in values.get("pots", ())),
        products=tuple(_product(table) for table in values.get("product", ())),
        vessel_l=written.parse_vessel_l(tools["bucket"]) if "bucket" in tools else None,
        scoops=tuple(_scoop(text) for text in tools.get("scoops", ())),
        no_feeding=tuple(_no_feeding(table) for table in values.get("no_feeding", ())),
        phases=tuple(_phase(table) for table in values.get("phase", ())),
        rules=_rules(rules, tools.get("water_ec")),
        network=Network(**values.get("network", {})),
        units=values.get("units", "metric"),
        currency=values.get("currency", ""),
    )


def _site(table: Table, folder: Path) -> Site:
    as_written = ("name", "station", "hemisphere", "time_zone", "unit")
    forecast = table.get("forecast")
    by_address = forecast is not None and is_address(forecast)
    return Site(
        **{key: table[key] for key in as_written if key in table},
        record=folder / table["record"] if "record" in table else None,
        forecast=None if forecast is None or by_address else folder / forecast,
        forecast_url=forecast if by_address else None,
        elevation_m=written.parse_elevation_m(table["elevation"]) if "elevation" in table else None,
        policy=_policy(table),
    )


def _policy(table: Table) -> Policy:
    readers: dict[str, tuple[str, Callable[[Any], float]]] = {
        "risk": ("risk_tolerance", written.parse_tolerance),
        "damage_temp": ("damage_temp_c", written.parse_damage_temp_c),
        "offset": ("offset_c", _offset_c),
        "offset_spread": ("offset_sd_c", written.parse_spread_c),
        "forecast_offset": ("forecast_offset_c", _offset_c),
        "exposed_from": ("first_exposed_days", int),
        "max_age_hours": ("max_age_hours", float),
    }
    stated: dict[str, Any] = {name: read(table[key]) for key, (name, read) in readers.items() if key in table}
    return Policy(**stated)


def _offset_c(text: str) -> float:
    return parse_offset(text)[0]


def _group(table: Table) -> PotGroup:
    readers: dict[str, tuple[str, Callable[[str], float]]] = {
        "pot": ("pot_l", written.parse_pot_l),
        "per_pot": ("per_pot_l", written.parse_per_pot_l),
        "height": ("height_m", written.parse_height_m),
    }
    sizes: dict[str, Any] = {name: read(table[key]) for key, (name, read) in readers.items() if key in table}
    return PotGroup(
        **{key: table[key] for key in ("name", "tree", "count", "stage")},
        **sizes,
        winters=table.get("winters", "outdoors"),  # only trees in the ground need not say it
        movable=table.get("movable", False),
    )


def _product(table: Table) -> Product:
    return make_product(**table)


def _scoop(text: str) -> Scoop:
    return Scoop(name=text, volume_ml=written.parse_scoop_l(text) * 1000.0)


def _no_feeding(table: Table) -> NoFeeding:
    first, last = written.parse_month_day(table["from"]), written.parse_month_day(table["to"])
    return NoFeeding(name=table["name"], first=first, last=last)


def _phase(table: Table) -> Phase:
    return Phase(
        name=table["name"],
        kind=table["kind"],
        anchor=table["starts"],
        after_days=written.parse_days(table.get("after", "0 days")),
        every_days=written.parse_interval(table["every"]) if "every" in table else ONCE_DAYS,
        portions=tuple(_portion(portion) for portion in table["feed"]),
        feedings=table.get("feedings"),
        groups=tuple(table.get("groups", ())),
    )


def _portion(table: Table) -> Portion:
    strength = written.parse_strength(table["strength"]) if "strength" in table else None
    return Portion(product=table["product"], strength=strength, n_ppm=table.get("n_ppm"))


def _rules(table: Table, water_ec_ms_cm: float | None) -> SeasonRules:
    stated: dict[str, Any] = {key: table[key] for key in ("stop_weeks", "least_days") if key in table}
    if "n_per_pot" in table:
        stated["n_per_pot_g"] = written.parse_nitrogen_g(table["n_per_pot"])
    if "ec_limit" in table:
        stated["ec_limit_ms_cm"] = table["ec_limit"]
    if "autumn_risk" in table:
        stated["autumn_risk"] = written.parse_tolerance(table["autumn_risk"])
    return SeasonRules(**stated, water_ec_ms_cm=water_ec_ms_cm)


def check(text: str, file: Path) -> dict[str, Any]:
    """Return the plain values of a garden file in which nothing is wrong."""
    said = read_statements(text)
    mistakes = list(said.faults)
    values: dict[str, Any] = {}
    if said.values is not None:
        values = {key: _listed(key, value) for key, value in said.values.items()}
        mistakes += (_placed(mistake, said) for mistake in _find_mistakes(values, said.lost))
    if mistakes:
        raise GardenFileError(file, mistakes)
    return values


def _listed(key: str, value: object) -> object:
    """Take one table where several may stand as a list of one."""
    return [value] if key in LISTS and isinstance(value, dict) else value


def _find_mistakes(values: dict[str, Any], lost: frozenset[str]) -> Iterator[Mistake]:
    try:
        GardenStated.model_validate(values)
        wrong = []
    except ValidationError as error:
        errors = error.errors(include_url=False)
        wrong = [problem["loc"] for problem in errors]
        yield from explain(errors, KEYS, lost)
    for mistake in find_contradictions(values, wrong):
        if mistake.place[-1] not in lost:
            yield mistake


def _placed(mistake: Mistake, said: Statements) -> InputError:
    return InputError(
        mistake.what, line=said.line_of(mistake.place), value=mistake.value, remedy=mistake.remedy
    )


_NOUNS = {
    noun.__name__: noun
    for noun in (
        *(Garden, Site, PotGroup, Scoop, Network, Policy, NoFeeding, Phase, Portion, SeasonRules),
        *(Product, Analysis, Rate),
    )
}
_NOUN, _FILE = "noun", "file from the garden's folder"


def plain(garden: Garden) -> dict[str, Any]:
    """Lay a garden out as JSON can hold it; its files are named from its own folder."""
    laid_out: dict[str, Any] = _plain(garden, garden.file.parent)
    return laid_out


def made(kept: dict[str, Any], file: Path) -> Garden:
    """Make the garden again, of what `plain` laid out, for a file in any folder."""
    garden = _made(kept | {"file": {_FILE: file.name}}, file.parent)
    if not isinstance(garden, Garden):
        raise TypeError("not a garden")
    return garden


def _plain(value: Any, folder: Path) -> Any:  # noqa: ANN401  # any value of a garden
    if is_dataclass(value):
        told = {field.name: getattr(value, field.name) for field in fields(value) if _is_stated(field, value)}
        return {_NOUN: type(value).__name__} | {name: _plain(one, folder) for name, one in told.items()}
    if isinstance(value, Path):
        return {_FILE: str(value.relative_to(folder) if value.is_relative_to(folder) else value)}
    return [_plain(one, folder) for one in value] if isinstance(value, tuple) else value


def _is_stated(field: dataclasses.Field[Any], noun: object) -> bool:
    """Return whether a field is not at its default: another version's default must not be kept."""
    default = field.default if field.default_factory is MISSING else field.default_factory()
    return default is MISSING or bool(getattr(noun, field.name) != default)


def _made(kept: Any, folder: Path) -> Any:  # noqa: ANN401  # any value of a garden
    if isinstance(kept, list):
        return tuple(_made(one, folder) for one in kept)
    if not isinstance(kept, dict):
        return kept
    if _FILE in kept:
        return folder / kept[_FILE]
    noun = _NOUNS[kept[_NOUN]]
    return noun(**{name: _made(value, folder) for name, value in kept.items() if name != _NOUN})


FORM = 3  # of what is kept; raise it when a check or a key of the garden file changes
LARGEST = 128 * 2**10  # bytes; a garden file has a few thousand
_UNREADABLE = (
    *(OSError, ArithmeticError, ValueError, KeyError, TypeError, AttributeError, RecursionError),
    InputError,
)


def read_garden(path: Path, kept: Path | None = None) -> Garden:
    """Read a garden file, or name every mistake in it."""
    try:
        content = _content(path)
        place = None if kept is None else kept / f"garden-{_key_of(content)}.json"
        garden = None if place is None else _load(place, path)
        return garden or _check(content, path, place)
    except GardenFileError:
        raise
    except InputError as error:
        raise GardenFileError(path, [error]) from None


def _content(path: Path) -> bytes:
    if path.is_dir():
        raise InputError("a directory, not a file", remedy="Name the garden file inside it.")
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST + 1)
    except FileNotFoundError:
        raise InputError(
            "no such file", remedy="Check the name, or write a new one with: frostgate init"
        ) from None
    except OSError as fault:
        raise InputError("cannot be read", value=fault.strerror) from None
    if len(content) > LARGEST:
        raise InputError(f"larger than {LARGEST // 2**10} KiB, too large for a garden file",
                         remedy="Name the garden file, not a record.")  # fmt: skip
    return content


def _text(content: bytes) -> str:
    if not content.strip():
        raise InputError("an empty file", remedy="Write a new one under another name with: frostgate init")
    nul = content.find(b"\0")
    if nul >= 0:
        line = content.count(b"\n", 0, nul) + 1
        raise InputError("not a text file (it holds a NUL byte)", line=line, remedy="Name a text file.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise InputError("not UTF-8 text", line=line, remedy="Save it as UTF-8 text.") from None


def _check(content: bytes, path: Path, place: Path | None) -> Garden:

    garden = make_garden(check(_text(content), path), path)
    if place is not None:
        _keep(place, garden)
    return garden


def _key_of(content: bytes) -> str:
    return source_hash(content + bytes([FORM])).hex()


def _load(place: Path, path: Path) -> Garden | None:
    """Make the garden of what is kept, or give None where that cannot be read whole."""
    try:
        return made(json.loads(place.read_text(encoding="utf-8")), path)
    except _UNREADABLE:
        return None


def _keep(place: Path, garden: Garden) -> None:
    """Write beside the place and move there whole, so two mornings at once do no harm."""
    part = place.with_name(f"{place.stem}.{os.getpid()}.{threading.get_ident()}.part")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(json.dumps(plain(garden)), encoding="utf-8")
        part.replace(place)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
