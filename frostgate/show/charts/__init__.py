"""Curves, outlooks and frost dates into charts: one definition serves notebook, PNG and SVG.

A curve belongs to no year, so its dates are drawn in the season that holds 29 February 2000. Scales are in
UTC: in a browser's own time zone a day could slip back to the evening before.
"""

from __future__ import annotations

from frostgate.show.charts.curves import draw_curves, draw_frost_dates, draw_year
from frostgate.show.charts.outlooks import draw_outlook
from frostgate.show.charts.reliability import draw_reliability
from frostgate.show.paper import save_chart

__all__ = ["draw_curves", "draw_frost_dates", "draw_outlook", "draw_reliability", "draw_year", "save_chart"]
