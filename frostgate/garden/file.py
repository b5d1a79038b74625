"""The garden file: read, checked, and kept until it changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from frostgate.errors import FrostgateError, GardenFileError, InputError
from frostgate.files import AnyPath, decode, kept_or_made, key_of, read_bytes
from frostgate.garden.statements import Place, read_statements
from frostgate.model.feedings import Analysis, NoFeeding, Phase, Portion, Product, Rate, SeasonRules
from frostgate.model.garden import Garden, Network, PotGroup, Scoop, Site
from frostgate.model.gate import Policy

FORM = 7  # of what is kept; raise it when a check or a key of the garden file changes
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
    except InputError as error:  # with a line, it is of what is no text
        remedy = "Name a garden file, or write a new one with: frostgate init"
        if error.line is not None:
            remedy = "Save it as UTF-8 text."
        raise GardenFileError(path, [error.but(remedy=remedy)]) from None
    sites = (
        replace(
            site,
            record=site.record and path.parent / site.record,
            forecast=site.forecast and path.parent / site.forecast,
        )
        for site in garden.sites
    )
    return replace(garden, file=path, sites=tuple(sites))


def _checked(content: bytes, path: Path) -> Garden:
    from frostgate.garden.tables import read_tables  # pydantic: half a morning, spared where a garden is kept

    return read_tables(read_statements(decode(content, path)), path)


def on_their_lines(path: Path, faults: Mapping[Place, FrostgateError]) -> GardenFileError:
    """Make the error of values that are sound by themselves, each at its place."""
    line_of = read_statements(decode(read_bytes(path, largest=LARGEST), path)).line_of
    return GardenFileError(path, [fault.but(line=line_of(place)) for place, fault in faults.items()])
