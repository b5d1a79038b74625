"""Which keys a garden file may hold, and what may stand behind each.

Only a file that is new or changed is checked by this: pydantic takes longer to load than a morning's answer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationInfo, field_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from frostgate.errors import InputError
from frostgate.feeding.products import make_product
from frostgate.garden import written
from frostgate.garden.addresses import parse_archive, parse_forecast
from frostgate.terms.garden import Stage, Winters
from frostgate.terms.network import ARCHIVE
from frostgate.terms.phases import Anchor
from frostgate.terms.products import ProductForm
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
    """The whole file.

    Examples
    --------
    >>> GardenStated.model_validate({"site": [{"name": "Hollin Bank"}]}).units
    'metric'
    """

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
    """Give the keys of a table, each with an example of its value, None for a table."""
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
