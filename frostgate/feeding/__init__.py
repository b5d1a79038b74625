"""Verdict and pots -> programme -> mix."""
