"""What to buy for the rest of the season, as a table and as plain values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.feeding.shopping import Need, Total, total_cost
from frostgate.quantities import say_mass
from frostgate.show.answers import Plain, rounded
from frostgate.show.tables import console_of_its_width
from frostgate.terms.garden import Garden

STOCK = "Nothing is taken off for what you still have."


def write_shopping(
    needs: Sequence[Need], garden: Garden, console: Console | None = None, *, unmixed: int = 0
) -> None:
    """Write what to buy, what it costs, and what is not known of it.

    Parameters
    ----------
    needs, garden
        What the season still takes, and the garden's units and currency.
    console
        Where to write; the terminal by default.
    unmixed
        How many feedings still to come have no mix, and so are not counted.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> write_shopping((), Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),)))
    Nothing is left to buy: no feeding with a mix is to come.
    """
    screen = console or console_of_its_width()
    if not needs:
        screen.print(Text("Nothing is left to buy: no feeding with a mix is to come."))
    else:
        _write_needs(needs, garden, screen)
    for note in _notes(needs, unmixed):
        screen.print(Text(note))


def shopping_answer(needs: Sequence[Need], garden: Garden, *, unmixed: int = 0) -> Plain:
    """Give the same under the names that the JSON answer uses.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> shopping_answer((), Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),)))
    {'needs': [], 'currency': None, 'total_cost': None, 'total_is_complete': True, 'notes': []}
    """
    total = total_cost(needs)
    return {
        "needs": [_need_answer(need) for need in needs],
        "currency": garden.currency or None,
        "total_cost": rounded(total.cost, 2),
        "total_is_complete": total.complete,
        "notes": list(_notes(needs, unmixed)),
    }


def _write_needs(needs: Sequence[Need], garden: Garden, screen: Console) -> None:
    screen.print(Text("For the feedings still to come", style="bold"))
    screen.print()
    screen.print(_table(needs, garden))
    screen.print()
    screen.print(Text(_say_total(total_cost(needs), garden.currency)))


def _need_answer(need: Need) -> Plain:
    return {
        "product": need.product.name,
        "feedings": need.feedings,
        "planned_g": rounded(need.planned_g, 1),
        "grams": rounded(need.grams, 1),
        "pack_g": rounded(need.product.pack_g, 1),
        "packages": need.packages,
        "price": rounded(need.product.price, 2),
        "cost": rounded(need.cost, 2),
    }


def _table(needs: Sequence[Need], garden: Garden) -> Table:
    shown = Table(box=None, padding=(0, 2, 0, 0))
    shown.add_column("product", overflow="fold")
    for name in ("feedings", "planned", "with margin", "packages", "cost"):
        shown.add_column(name, justify="right")
    for need in needs:
        grams = [say_mass(mass_g, garden.units) for mass_g in (need.planned_g, need.grams)]
        cost = "not known" if need.cost is None else _say_cost(need.cost, garden.currency)
        cells = (need.product.name, f"{need.feedings}", *grams, _say_packages(need, garden), cost)
        shown.add_row(*map(Text, cells))
    return shown


def _say_packages(need: Need, garden: Garden) -> str:
    if need.packages is None or need.product.pack_g is None:
        return "not known"
    return f"{need.packages} x {say_mass(need.product.pack_g, garden.units)}"


def _say_cost(cost: float, currency: str) -> str:
    return f"{cost:.2f} {currency}".rstrip()


def _say_total(total: Total, currency: str) -> str:
    if total.cost is None:
        return "What it costs is not known."
    return f"Together {'' if total.complete else 'at least '}{_say_cost(total.cost, currency)}."


def _notes(needs: Sequence[Need], unmixed: int) -> Iterator[str]:
    if unmixed:
        what = "1 feeding still to come has" if unmixed == 1 else f"{unmixed} feedings still to come have"
        yield f"{what} no mix; what that takes is not in this list."
    for need in needs:
        if need.lacks:
            lacking = " or ".join(need.lacks)
            yield f"{need.product.name}: no {lacking} in the garden file; add what the shop offers."
    if needs:
        yield STOCK
