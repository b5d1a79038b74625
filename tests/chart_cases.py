"""What stands in a chart, read from its Vega-Lite."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from frostgate.files import save
from frostgate.show.charts.paper import chart_bytes

Layer = dict[str, Any]


def save_chart(chart, file: Path) -> None:
    """Write a chart as a command does."""
    save(file, chart_bytes(chart, file))


def layers_of(chart, mark: str) -> list[Layer]:
    """List the layers with a mark, each with its rows beside it."""
    spec = chart.to_dict(validate=False)
    panels = spec.get("vconcat") or spec.get("hconcat") or [spec]
    found = [
        {"data": panel.get("data")} | layer  # of a single layer the data stand with its panel
        for panel in panels
        for layer in panel["layer"]
        if layer["mark"]["type"] == mark
    ]
    return [{**layer, "rows": spec["datasets"][layer["data"]["name"]]} for layer in found]


def lines_of(chart) -> list[Layer]:
    """List the lines of a chart in their order, each with its name, its look and its rows."""
    lines = []
    for layer in layers_of(chart, "line"):
        color, dash = (layer["encoding"][channel]["scale"] for channel in ("color", "strokeDash"))
        assert color["domain"] == dash["domain"] == list(dict.fromkeys(row["line"] for row in layer["rows"]))
        for name, shade, strokes in zip(color["domain"], color["range"], dash["range"], strict=True):
            rows = [row for row in layer["rows"] if row["line"] == name]
            lines.append({"name": name, "color": shade, "dash": tuple(strokes), "rows": rows})
    return lines


def texts_of(chart) -> list[str]:
    return [row["text"] for layer in layers_of(chart, "text") for row in layer["rows"] if "text" in row]
