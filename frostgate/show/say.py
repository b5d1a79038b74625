"""Dates, lists, points, sections and tables as every screen writes them."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, TypeAlias

from frostgate.errors import visible
from frostgate.units import TemperatureUnit, say_offset

if TYPE_CHECKING:
    from rich.console import Console, JustifyMethod, OverflowMethod
    from rich.table import Table
    from rich.text import Text

Part: TypeAlias = "str | Text | Table"  # of a screen: lines and tables below each other

WIDTH = 88
NARROW = 78  # columns of running text below a table
WIDE = 102  # columns that the widest table needs
NARROWEST = 24  # of a last column, however wide those before it are


def say_month_day(month_day: str | None) -> str:
    """Write MM-DD as growers say it, ``9 Apr``, and no date as a dash."""
    if month_day is None:
        return "-"
    month, day = month_day.split("-")
    return f"{int(day)} {dt.date(2000, int(month), 1):%b}"


def or_dash(number: float | None, form: str) -> str:
    """Write a number in a table's form, and what is not known as a dash."""
    return "-" if number is None or math.isnan(number) else format(number, form)


def say_side(offset_c: float, than: str, unit: TemperatureUnit) -> str:
    """Tell how much colder or warmer a garden is than a station, or than a forecast."""
    if offset_c == 0.0:
        return f"as cold as {than}"
    return f"{say_offset(abs(offset_c), unit)} {'colder' if offset_c < 0 else 'warmer'} than {than}"


def counted(number: int, noun: str, nouns: str = "") -> str:
    """Write how many there are: ``no groups``, ``1 group``, ``2 groups``."""
    return f"{number or 'no'} {noun if number == 1 else nouns or f'{noun}s'}"


def listed(items: Sequence[str], word: str = "and") -> str:
    """Write items as a list, ``a, b and c``."""
    *first, last = items
    return f"{', '.join(first)} {word} {last}" if first else last


def once(lists: Iterable[Iterable[str]]) -> list[str]:
    """Return what stands in some lists, in order and each once."""
    return list(dict.fromkeys(itertools.chain.from_iterable(lists)))


def wrapped(text: str, first: str = "", rest: str = "", width: int = WIDTH) -> Iterator[str]:
    """Break a text into lines that fit the screen: the first behind ``first``, the others behind ``rest``."""
    yield from textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def columns(rows: Iterable[Sequence[str]], indent: str = "  ") -> Iterator[str]:
    """Write cells in columns, the last wrapped to the screen; columns that are empty are left out."""
    held = [column for column in zip(*rows, strict=True) if any(column)]
    widths = [max(map(len, column)) for column in held]
    for *cells, last in zip(*held, strict=True):
        head = indent + "".join(f"{cell:<{width}}  " for cell, width in zip(cells, widths, strict=False))
        for line in last.split("\n"):
            written = wrapped(line, head, " " * len(head), max(WIDTH, len(head) + NARROWEST))
            yield from list(written) or [head.rstrip()]
            head = " " * len(head)


def bullets(sentences: Iterable[str]) -> Iterator[str]:
    """Write sentences as points, wrapped to the screen."""
    for sentence in sentences:
        yield from wrapped(sentence, "  - ", "    ")


def section(title: str, lines: Iterable[str]) -> Iterator[str]:
    """Write lines under a title, parted from what stands above by an empty line; nothing without lines."""
    written = list(lines)
    if written:
        yield from ("", title, *written)


def console_of_its_width() -> Console:
    """Make a console as wide as the terminal, or wide enough for every column where there is none."""
    from rich.console import Console

    screen = Console(highlight=False, soft_wrap=True)
    return screen if screen.is_terminal else Console(highlight=False, soft_wrap=True, width=WIDE)


def write_parts(parts: Iterable[Part], screen: Console | None = None) -> None:
    """Write lines and tables below each other, whatever letters stand in them."""
    from rich.text import Text

    screen = screen or console_of_its_width()
    for part in parts:
        screen.print(Text(visible(part)) if isinstance(part, str) else part)


def grid(
    rows: Sequence[Mapping[str, str]],
    *,
    title: str | None = None,
    gap: int = 2,
    left: Sequence[str] = (),
    folds: str | None = None,
) -> Table:
    """Lay rows out below the heads of their cells, numbers to the right; one column may break its words."""
    from rich.table import Table
    from rich.text import Text

    shown = Table(title=title, title_justify="left", title_style="", box=None, padding=(0, gap, 0, 0))
    for head in rows[0]:
        over: OverflowMethod = "fold" if head == folds else "ellipsis"
        side: JustifyMethod = "left" if head in left else "right"
        shown.add_column(Text(head), justify=side, no_wrap=head != folds, overflow=over)
    for row in rows:
        shown.add_row(*(Text(visible(cell)) for cell in row.values()))
    return shown


def bold(title: object) -> Text:
    """Write a title in bold letters, such as a station's name and id."""
    from rich.text import Text

    return Text(visible(str(title)), style="bold")
