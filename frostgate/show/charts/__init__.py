"""Curves, outlooks and frost dates into charts: one definition serves notebook, PNG and SVG.

A curve belongs to no year, so its dates are drawn in the season that holds 29 February 2000. Scales are in
UTC: in a browser's own time zone a day could slip back to the evening before.
"""
