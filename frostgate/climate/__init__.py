"""Minima into frost dates, frost dates into a curve."""
