"""Addresses on the network as a garden file states them."""

from __future__ import annotations

from frostgate.errors import InputError
from frostgate.garden.written import parse_file_name


def parse_forecast(text: str) -> str:
    """Read the name of a forecast's file, or its address on the network.

    Raises
    ------
    InputError
        Where it is neither.

    Examples
    --------
    >>> parse_forecast("forecast.csv"), parse_forecast("https://example.org/forecast.json")
    ('forecast.csv', 'https://example.org/forecast.json')
    """
    if not is_address(text):
        return parse_file_name(text)
    if any(sign.isspace() or not sign.isprintable() for sign in text) or not text.partition("://")[2]:
        raise InputError("not an address", value=text, remedy='Write it as "https://example.org/a.json".')
    return text


def is_address(text: str) -> bool:
    """Tell an address on the network from the name of a file.

    Examples
    --------
    >>> is_address("https://example.org/forecast.json"), is_address("forecast.json")
    (True, False)
    """
    return text.lower().startswith(("http://", "https://"))


def parse_archive(text: str) -> str:
    """Read the base address of an archive of station records.

    Raises
    ------
    InputError
        Where it is none.

    Examples
    --------
    >>> parse_archive("https://example.org/ghcn")
    'https://example.org/ghcn'
    """
    if not is_address(text):
        raise InputError("not an address", value=text, remedy='Write it as "https://example.org/ghcn".')
    return parse_forecast(text)
