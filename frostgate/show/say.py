"""Dates, lists, points and sections as every screen writes them."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterable, Iterator, Sequence

WIDTH = 88


def say_month_day(month_day: str | None) -> str:
    """Write MM-DD as growers say it, ``9 Apr``, and no date as a dash."""
    if month_day is None:
        return "-"
    month, day = month_day.split("-")
    return f"{int(day)} {dt.date(2000, int(month), 1):%b}"


def listed(items: Sequence[str], word: str = "and") -> str:
    """Write items as a list, ``a, b and c``."""
    *first, last = items
    return f"{', '.join(first)} {word} {last}" if first else last


def wrapped(text: str, first: str = "", rest: str = "", width: int = WIDTH) -> Iterator[str]:
    """Break a text into lines that fit the screen: the first behind ``first``, the others behind ``rest``."""
    yield from textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def bullets(sentences: Iterable[str]) -> Iterator[str]:
    """Write sentences as points, wrapped to the screen."""
    for sentence in sentences:
        yield from wrapped(sentence, "  - ", "    ")


def section(title: str, lines: Iterable[str]) -> Iterator[str]:
    """Write lines under a title, parted from what stands above by an empty line; nothing without lines."""
    written = list(lines)
    if written:
        yield from ("", title, *written)
