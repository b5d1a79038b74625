"""Tables of coming nights: one row a night, with remarks above the header."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from frostgate.sources.forecasts.nights import (
    FEWEST_MEMBERS,
    SAY_ZONE,
    Night,
    Opened,
    Stated,
    agree_on_unit,
    find_zone,
    mean_and_sd,
    minimum_c,
    parse_date,
    parse_time,
    refuse_contradiction,
    refuse_swapped,
)
from frostgate.sources.text import Spot, Table, read_table, split_line, split_lines
from frostgate.units import TemperatureUnit

Kind = Literal["date", "issued", "minimum", "maximum", "spread", "quantile", "member"]

_NAME = r"""(?xi: (?P<date>date) | (?P<issued>issued)
  | (?: (?P<minimum>tmin | low) | (?P<maximum>tmax | high) | (?P<spread>sd | spread)
      | (?: (?P<quantile>q | p) | (?P<member>m | member) ) _? (?P<number>[0-9]+(\.[0-9]+)?) )
    (?: _(?P<letter>[cf]) | \s* [(\[] \s* °? \s* (?P<bracketed>[cf]) \s* [)\]] )? )"""
MOST_SPREAD_C = 30.0  # wider than any climate's own spread; common sense, no source
_REMARK = r"\s*#\s*(issued|time[ _]?zone)\s*:(.*)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column that the reader knows."""

    index: int
    name: str
    kind: Kind
    number: float = 0.0  # the level of a quantile [%], or the number of a member
    unit: TemperatureUnit | None = None  # as its name states it


def looks_like_table(opened: Opened) -> bool:
    """Return whether a text's first line that is no remark names a column ``date``."""
    lines = split_lines(opened.text, opened.path)
    header = next((line for line in lines[len(_remarks(lines)) :] if line.strip()), "")
    return "date" in [cell.lower() for cell in split_line(header)]


def read_table_of_nights(opened: Opened) -> Stated:
    """Read a plain table."""
    lines = split_lines(opened.text, opened.path)
    remarks = _remarks(lines)
    table = read_table(lines[len(remarks) :], opened.path, above=len(remarks))
    kinds = known_columns(table.names, table.spot(None))
    columns = sorted(itertools.chain(*kinds.values()), key=lambda column: column.index)
    stated = [(column.unit, table.spot(None, column.index)) for column in columns if column.unit]
    unit = agree_on_unit(stated, opened.unit, table.spot(None))
    named = _said("time", remarks, table)
    zone = opened.zone or (find_zone(*named[0]) if named else None)
    nights = [_night(table, row, kinds, unit) for row in range(len(table.rows))]
    for column in kinds.get("maximum", []):
        maxima_c = [
            minimum_c(table.number(row, column.index), unit, table.spot(row, column.index))
            for row in range(len(nights))
        ]
        refuse_swapped([night.tmin_c for night in nights], maxima_c, table.spot(None, column.index))
    return Stated(
        nights=nights,
        issued=_issued(remarks, table, kinds, zone),
        zone=zone,
        notes=list(_notes(table, kinds)),
    )


def known_column(index: int, name: str) -> Column | None:
    """Tell what a column holds by its name; None for a column that says nothing of minima."""
    match = re.fullmatch(_NAME, name)
    if match is None:
        return None
    kind: Kind = next(kind for kind in get_args(Kind) if match[kind])
    units: dict[str, TemperatureUnit] = {"f": "F", "c": "C"}
    unit = units.get((match["letter"] or match["bracketed"] or "").lower())
    return Column(index=index, name=name, kind=kind, number=float(match["number"] or 0), unit=unit)


def known_columns(header: Sequence[str], spot: Spot) -> dict[Kind, list[Column]]:
    """Sort the columns of a header by what they hold; quantiles and members rise."""
    named = (known_column(index, name) for index, name in enumerate(header))
    columns = sorted((c for c in named if c is not None), key=lambda column: column.number)
    kinds: dict[Kind, list[Column]] = {}
    for column in columns:
        alike = kinds.setdefault(column.kind, [])
        if alike and alike[-1].number == column.number:
            shown = f"{alike[-1].name}, {column.name}"
            raise spot.fault("two columns say the same", shown, "Keep one of them.")
        alike.append(column)
    _refuse_what_cannot_be(kinds, spot)
    return kinds


def _refuse_what_cannot_be(kinds: dict[Kind, list[Column]], spot: Spot) -> None:
    spreads: list[Kind] = [kind for kind in ("spread", "quantile", "member") if kind in kinds]
    levels = [column.number for column in kinds.get("quantile", [])]
    beyond = bool(levels) and not 0.0 < levels[0] <= levels[-1] < 100.0
    few = 0 < len(kinds.get("member", [])) < FEWEST_MEMBERS
    no_minima = not kinds.keys() & {"minimum", "member"} and 50.0 not in levels
    say_minima = "Name it tmin_c, tmin_f, low, q50 or member_1, member_2, member_3."
    checks: tuple[tuple[bool, str, Iterable[Kind], str], ...] = (
        (len(spreads) > 1, "more than one kind of spread", spreads, "Keep sd, quantiles or members."),
        (few, f"fewer than {FEWEST_MEMBERS} members", ["member"], "Add the others."),
        (beyond, "a quantile lies between 0 and 100", ["quantile"], "Leave it out."),
        (no_minima, "no column of minima", kinds, say_minima),
    )
    for wrong, what, shown, remedy in checks:
        if wrong:
            raise spot.fault(what, ", ".join(c.name for kind in shown for c in kinds[kind]), remedy)


def _night(table: Table, row: int, kinds: dict[Kind, list[Column]], unit: TemperatureUnit) -> Night:
    def minima(kind: Kind) -> list[float]:
        indices = [column.index for column in kinds.get(kind, [])]
        return [minimum_c(table.number(row, index), unit, table.spot(row, index)) for index in indices]

    tmin_c, sd_c = next(iter(minima("minimum")), math.nan), math.nan
    members_c: Sequence[float] = ()
    if "member" in kinds:
        members_c = minima("member")
        refuse_contradiction(tmin_c, members_c, members_c, table.spot(row))
        tmin_c, sd_c = mean_and_sd(members_c, tmin_c)
    elif "quantile" in kinds:
        levels = [column.number for column in kinds["quantile"]]
        quantiles = dict(zip(levels, minima("quantile"), strict=True))
        low_c = [quantiles[level] for level in levels if level <= 50.0]
        high_c = [quantiles[level] for level in levels if level >= 50.0]
        refuse_contradiction(tmin_c, low_c, high_c, table.spot(row))
        at = {50.0: tmin_c, **quantiles}
        known = [(level, at[level]) for level in sorted(at) if not math.isnan(at[level])]
        for (low, lower), (high, higher) in itertools.pairwise(known):
            if higher < lower:
                what = f"quantile {high:g} lies below quantile {low:g}"
                raise table.spot(row).fault(what, table.say_row(row), "Quantiles rise with their level.")
        tmin_c, sd_c = at[50.0] if math.isnan(tmin_c) else tmin_c, sd_from_quantiles(at)
        members_c = members_from_quantiles(known, sd_c)
        if known and math.isnan(tmin_c):
            what, remedy = "quantiles without their median", "State q50, or tmin, of that night."
            raise table.spot(row).fault(what, table.say_row(row), remedy)
    elif "spread" in kinds:
        index = kinds["spread"][0].index
        sd_c = spread_c(table.number(row, index), unit, table.spot(row, index))
    date = kinds["date"][0].index
    spot = table.spot(row, date)
    day = parse_date(table.rows[row][date].strip(), spot)
    return Night(date=day, spot=spot, tmin_c=tmin_c, sd_c=sd_c, members_c=members_c)


def spread_c(degrees: float, unit: TemperatureUnit, spot: Spot) -> float:
    """Bring a standard deviation, which is a difference, to [°C]; NaN stays NaN."""
    sd_c = degrees / 1.8 if unit == "F" else degrees
    if sd_c < 0.0 or sd_c > MOST_SPREAD_C:
        what = "a spread is never negative" if sd_c < 0.0 else "a spread wider than any climate's"
        raise spot.fault(what, f"{degrees:g} °{unit}", "Leave a missing spread empty.")
    return sd_c


def sd_from_quantiles(at: dict[float, float]) -> float:
    """Return the cold side's standard deviation: median less lowest quantile, over its normal quantile."""
    lowest = min(at)
    if lowest >= 50.0:
        return math.nan
    from statistics import NormalDist  # slow to load, and few forecasts state quantiles

    return (at.get(50.0, math.nan) - at[lowest]) / -NormalDist().inv_cdf(lowest / 100.0)


def members_from_quantiles(known: Sequence[tuple[float, float]], sd_c: float) -> list[float]:
    """Return 100 equally likely minima by quantiles: straight lines between, a normal tail below them."""
    if len(known) < 2:
        return []
    from statistics import NormalDist  # slow to load, and few forecasts state quantiles

    levels, minima_c = zip(*known, strict=True)
    at = np.arange(0.5, 100.0)
    members_c = np.interp(at, levels, minima_c)
    if not math.isnan(sd_c):
        z = np.array([NormalDist().inv_cdf(level / 100.0) for level in (*at, levels[0])])
        members_c = np.where(at < levels[0], minima_c[0] + sd_c * (z[:-1] - z[-1]), members_c)
    return [float(minimum_c) for minimum_c in members_c]


def _remarks(lines: Sequence[str]) -> list[str]:
    """Return the lines above the header: remarks, and blank lines among them."""
    return list(itertools.takewhile(lambda line: not line.strip() or line.lstrip().startswith("#"), lines))


def _said(name: str, remarks: Sequence[str], table: Table) -> list[tuple[str, Spot]]:
    """Find what the remarks say under a name, which they may say once, and where."""
    said = []
    for line, text in enumerate(remarks, start=1):
        match = re.fullmatch(_REMARK, text, re.IGNORECASE)
        if match and match[1].lower().startswith(name):
            said.append((match[2].strip(), Spot(file=table.path, line=line, name=f"# {match[1]}")))
    if len(said) > 1:
        raise said[1][1].fault("said twice", said[1][0], "Keep one of the lines.")
    return said


def _issued(
    remarks: Sequence[str], table: Table, kinds: dict[Kind, list[Column]], zone: dt.tzinfo | None
) -> dt.datetime | None:
    texts = _said("issued", remarks, table)
    for column in kinds.get("issued", []):
        cells = enumerate(table.text(column.index))
        texts += [(text, table.spot(row, column.index)) for row, text in cells]
    first: tuple[dt.datetime, Spot] | None = None
    for text, spot in texts:
        time = parse_time(text, spot)
        if time.tzinfo is not None:
            if zone is None:
                raise spot.fault("a time with an offset from UTC, and no time zone is known", text, SAY_ZONE)
            time = time.astimezone(zone).replace(tzinfo=None)
        first = first or (time, spot)
        if time != first[0]:
            what = f"made at another time than {first[1].words} says ({first[0]:%Y-%m-%dT%H:%M})"
            raise spot.fault(what, f"{time:%Y-%m-%dT%H:%M}", "Name a file of one forecast.")
    return first[0] if first else None


def _notes(table: Table, kinds: dict[Kind, list[Column]]) -> Iterator[str]:
    known = {c.index for kind, columns in kinds.items() if kind != "maximum" for c in columns}
    unread = [name for index, name in enumerate(table.names) if index not in known]
    if "member" in kinds:
        unread += [column.name for column in kinds.get("minimum", [])]
        yield f"Each minimum is the mean of {len(kinds['member'])} members, its sd theirs."
    if "quantile" in kinds and kinds["quantile"][0].number < 50.0:
        yield f"The sd is that of the cold side: the median less {kinds['quantile'][0].name}."
    if unread:
        yield f"Not read: {', '.join(unread)}."
