"""The garden file: read, checked and made into nouns, and kept until it changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from frostgate.errors import FrostgateError, GardenFileError, InputError
from frostgate.files import AnyPath, decode, kept_or_made, key_of, read_bytes
from frostgate.model.feedings import NoFeeding, Phase, Portion, SeasonRules
from frostgate.model.garden import Garden, Network, PotGroup, Scoop, Site
from frostgate.model.gate import Policy
from frostgate.model.products import Analysis, Product, Rate

FORM = 6  # of what is kept; raise it when a check or a key of the garden file changes
LARGEST = 128 * 2**10  # bytes; a garden file has a few thousand
_NOUNS = (
    *(Garden, Site, PotGroup, Scoop, Network, Policy, NoFeeding, Phase, Portion, SeasonRules),
    *(Product, Analysis, Rate),
)


def read_garden(path: AnyPath, kept: Path | None = None) -> Garden:
    r"""Read a garden file, or name every mistake in it.

    Parameters
    ----------
    path
        A TOML file as ``frostgate init`` writes it. The files that it names are found from its own folder.
    kept
        Folder where a garden found sound is kept, under its file's content: the next reading of the same
        content checks nothing and is about ten times as fast. None keeps nothing.

    Returns
    -------
    Garden
        Lengths in [m], volumes in [L], masses in [g], temperatures and their differences in [°C], shares and
        risks between 0 and 1.

    Raises
    ------
    GardenFileError
        Where the file cannot be read, or is not a sound garden file. Its ``mistakes`` are all there are, each
        with its line and what to write instead.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "garden.toml"
    ...     _ = file.write_text('[[site]]\nname = "Hollin Bank"\nrisk = "5%"\noffset = "-1.8F"\n')
    ...     policy = read_garden(file).home.policy
    >>> policy.risk_tolerance, round(policy.offset_c, 6)
    (0.05, -1.0)
    """
    path = Path(path)
    try:
        content = read_bytes(path, largest=LARGEST, kind="a garden file")
        garden = kept_or_made(
            kept, f"garden-{key_of(content, form=FORM)}", lambda: _checked(content, path), _NOUNS
        )
    except GardenFileError:
        raise
    except InputError as error:
        remedy = "Name a garden file, or write a new one with: frostgate init"
        if error.line is not None:  # of what is no text
            remedy = "Save it as UTF-8 text."
        wrong = InputError(error.what, line=error.line, value=error.value, remedy=remedy)
        raise GardenFileError(path, [wrong]) from None
    return _placed(garden, path)


def _checked(content: bytes, path: Path) -> Garden:
    from frostgate.garden.tables import read_tables  # pydantic: half a morning, spared where a garden is kept

    return read_tables(decode(content, path), path)


def _placed(garden: Garden, path: Path) -> Garden:
    """Name the garden's files from its own folder."""
    folder = path.parent
    sites = (
        replace(
            site,
            record=None if site.record is None else folder / site.record,
            forecast=None if site.forecast is None else folder / site.forecast,
        )
        for site in garden.sites
    )
    return replace(garden, file=path, sites=tuple(sites))


def on_their_lines(path: Path, faults: Mapping[tuple[str | int, ...], FrostgateError]) -> GardenFileError:
    """Make the error of values that are sound by themselves, each at its place: ``("site", 0, "record")``."""
    from frostgate.garden.mistakes import read_statements  # with tomllib, which a kept garden does not need

    statements = read_statements(decode(read_bytes(path, largest=LARGEST), path))
    return GardenFileError(
        path,
        [
            InputError(fault.what, line=statements.line_of(place), value=fault.value, remedy=fault.remedy)
            for place, fault in faults.items()
        ],
    )
