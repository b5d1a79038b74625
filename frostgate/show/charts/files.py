"""A chart into a file."""

from __future__ import annotations

import contextlib
import io
import secrets
from pathlib import Path

import altair as alt

from frostgate.errors import InputError


def save_chart(chart: alt.TopLevelMixin, path: Path) -> None:
    """Write a chart as PNG, twice as fine as on the screen, or as SVG; a file is whole or not there.

    Raises
    ------
    InputError
        Where the name ends otherwise, or the folder cannot be written to.

    Examples
    --------
    >>> import tempfile
    >>> chart = alt.Chart(alt.InlineData(values=[{"x": 1}])).mark_point().encode(x="x:Q")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     save_chart(chart, Path(folder) / "a.svg")
    ...     (Path(folder) / "a.svg").read_text()[:4]
    '<svg'
    """
    if path.suffix.lower() not in (".png", ".svg"):
        raise InputError(
            "no such form of chart",
            file=path,
            value=path.suffix or None,
            remedy="End its name in .png or .svg.",
        )
    content = _render(chart, path.suffix.lower())
    unfinished = path.with_name(f".{secrets.token_hex(8)}{path.suffix}")
    try:
        unfinished.write_bytes(content)
        unfinished.replace(path)
    except OSError as fault:
        raise InputError(
            "cannot be written",
            file=path,
            value=fault.strerror,
            remedy="Name a folder that can be written to.",
        ) from None
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink()


def _render(chart: alt.TopLevelMixin, suffix: str) -> bytes:
    if suffix == ".svg":
        text = io.StringIO()
        chart.save(text, format="svg")
        return text.getvalue().encode()
    picture = io.BytesIO()
    chart.save(picture, format="png", scale_factor=2)
    return picture.getvalue()
