"""What is asked of one site on one morning, and what its files say."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

from frostgate.cli import options
from frostgate.cli.options import Degrees
from frostgate.errors import InputError, TooFewSeasonsError, UnstatedUnitError
from frostgate.files import read_bytes
from frostgate.gate.verdict import Morning, ask
from frostgate.model.gate import Forecast, Policy
from frostgate.model.records import BasisOption, Completeness, SiteClimate
from frostgate.sources.cache import kept_site
from frostgate.sources.forecasts import read_forecast
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors
    from frostgate.model.garden import Site

Read = TypeVar("Read")


def read_hinted(read: Callable[[Any], Read], unit: str | None) -> Read:
    """Read a file by its own word, and by the stated unit only where it has none."""
    try:
        return read(None)
    except UnstatedUnitError:
        if unit is None:
            raise
        return read(unit)


ANOTHER_TIME = dt.timedelta(days=14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked this morning.

    Parameters
    ----------
    record, forecast
        The station's minima and the coming nights; None without a forecast.
    policy
        The grower's numbers.
    unit_wished
        Of the temperatures in the answer; None takes the station's own.
    on
        The day asked about; None asks the clock.
    climate_only
        Whether to answer by the curve alone.
    autumn
        Whether the first autumn frosts are wanted too.
    time_zone, unit, station, hemisphere, kind, basis, completeness, keep_suspects, drop_contradictions
        As the options of the same names say.
    """

    record: Path
    forecast: Path | None = None
    policy: Policy
    unit_wished: TemperatureUnit | None = None
    on: dt.date | None = None
    climate_only: bool = False
    autumn: bool = False
    time_zone: str | None = None
    unit: str | None = None
    station: str | None = None
    hemisphere: str | None = None
    kind: str = "pooled"
    basis: BasisOption = "best"
    completeness: Completeness = "chance"
    keep_suspects: bool = False
    drop_contradictions: bool = False

    def coming(self) -> Forecast | None:
        """Read the forecast, where there is one."""
        path = self.forecast
        if path is None:
            return None
        return read_hinted(lambda unit: read_forecast(path, unit=unit, time_zone=self.time_zone), self.unit)

    def past(self) -> SiteClimate:
        """Take the station's climate from what is kept, or make it and keep it."""
        content = read_bytes(self.record)
        settings = {
            "threshold_c": self.policy.station_threshold_c,
            "threshold_sd_c": self.policy.offset_sd_c,
            "name": self.record.name,
            "unit": self.unit,
            "station": self.station,
            "hemisphere": self.hemisphere,
            "kind": self.kind,
            "years": self.basis,
            "completeness": self.completeness,
            "keep_suspects": self.keep_suspects,
            "drop_contradictions": self.drop_contradictions,
            "autumn": self.autumn,
        }
        return kept_site(options.cache_folder(), content, lambda: self._know(content), **settings)

    def unit_shown(self, site: SiteClimate | None) -> TemperatureUnit:
        """Choose the unit of the answer: as wished, else as the station observes."""
        if self.unit_wished:
            return self.unit_wished
        return "F" if site is not None and site.curve.step_c == WHOLE_F_STEP_C else "C"

    def refuse_another_time(self, coming: Forecast | None, today: dt.date) -> None:
        """Refuse a forecast for quite another time of the year: it is the wrong file, not a stale one."""
        if coming is None or self.climate_only:
            return
        first: dt.date = coming.dates[0].astype(object)
        if first - ANOTHER_TIME > today or coming.through + ANOTHER_TIME < today:
            raise InputError(
                f"a forecast for another time than {today}",
                file=coming.source,
                value=f"{first} to {coming.through}",
                remedy="Give the forecast of the coming nights, or check --on.",
            )

    def _know(self, content: bytes) -> SiteClimate:
        from frostgate.climate.quality import find_hemisphere
        from frostgate.climate.site import blur_site, know_autumn, know_site
        from frostgate.sources.records import parse_minima

        minima = read_hinted(
            lambda unit: parse_minima(
                content,
                self.record,
                unit=unit,
                station=self.station,
                drop_contradictions=self.drop_contradictions,
            ),
            self.unit,
        )
        settings: dict[str, Any] = {
            "start": options.season_start(self.hemisphere) or find_hemisphere(minima),
            "kind": self.kind,
            "completeness": self.completeness,
            "keep_suspects": self.keep_suspects,
            "years": self.basis,
        }
        threshold_c = self.policy.station_threshold_c
        know = functools.partial(know_site, minima, **settings)
        site = blur_site(know, threshold_c, self.policy.offset_sd_c)
        return replace(site, autumn=know_autumn(minima, threshold_c, **settings)) if self.autumn else site


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What a command's options state; None where the garden's own, or the default, holds."""

    record: Path | None = None
    forecast: Path | None = None
    risk: float | None = None
    damage_temp: Degrees | None = None
    offset: Degrees | None = None
    offset_spread: Degrees | None = None
    forecast_offset: Degrees | None = None
    exposed_from: int | None = None
    max_age: float | None = None
    show: TemperatureUnit | None = None
    time_zone: str | None = None
    unit: str | None = None
    station: str | None = None
    hemisphere: str | None = None
    offline: bool = False

    def policy(self, base: Policy) -> Policy:
        """Return the grower's numbers, those stated here before those of ``base``."""
        written = {
            "risk_tolerance": self.risk,
            "damage_temp_c": _degrees(self.damage_temp),
            "offset_c": _degrees(self.offset),
            "offset_sd_c": _degrees(self.offset_spread),
            "forecast_offset_c": _degrees(self.forecast_offset),
            "first_exposed_days": self.exposed_from,
            "max_age_hours": self.max_age,
        }
        changes: dict[str, Any] = {name: value for name, value in written.items() if value is not None}
        return replace(base, **changes)

    def ask(
        self,
        site: Site | None,
        garden_unit: TemperatureUnit | None = None,
        **more: Any,  # noqa: ANN401  # fields of Question by name
    ) -> Question:
        """Make the question, of a garden's site or of the files named here.

        Raises
        ------
        InputError
            Where no record is named.
        """
        record = self.record or (site.record if site else None)
        if record is None:
            raise InputError(
                "no station's record is named" if site is None else f"the site {site.name!r} names no record",
                remedy="Name one with --record, or in a garden file (frostgate init writes one).",
            )
        written = [given[1] for given in (self.damage_temp, self.offset, self.forecast_offset) if given]
        return Question(
            record=record,
            forecast=self.forecast or (site.forecast if site else None),
            policy=self.policy(site.policy if site else Policy()),
            unit_wished=self.show or (written[0] if written else garden_unit),
            time_zone=self.time_zone or (site.time_zone if site else None),
            unit=self.unit or (site.unit if site else None),
            station=self.station or (site.station if site else None),
            hemisphere=self.hemisphere or (site.hemisphere if site else None),
            **more,
        )


def _degrees(given: Degrees | None) -> float | None:
    return None if given is None else given[0]


Learn: TypeAlias = "Callable[[Policy, SiteClimate | None, dt.date], OwnErrors | None]"


def ask_site(
    question: Question, coming: Forecast | None, now: dt.datetime, learn: Learn | None = None
) -> tuple[Morning, OwnErrors | None]:
    """Return the morning's answer, and what the site's own log has taught where ``learn`` tells it."""
    policy, site = question.policy, None
    problem = None
    try:
        site = question.past()
    except TooFewSeasonsError as error:
        problem = _sentence(str(error))
    question.refuse_another_time(coming, now.date())
    own = None if learn is None else learn(policy, site, now.date())
    morning = ask(
        site,
        coming,
        policy if own is None else own.policy,
        now,
        climate_only=question.climate_only,
        problem=problem,
    )
    return morning, own


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
