"""Units of minima: stated by the file, told by the grower, never guessed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.records.rows import agree_on_unit, require_unit, to_celsius
from frostgate.units import as_stored

FILE = Path("invented.csv")


@pytest.mark.parametrize(
    ("stated", "told", "agreed"),
    [
        ("F", None, "F"),
        ("F", "F", "F"),
        ("C", "C", "C"),
        ("tenths-C", "C", "tenths-C"),
        ("tenths-C", None, "tenths-C"),
    ],
)
def test_a_stated_unit_holds(stated, told, agreed):
    assert agree_on_unit(stated, told, FILE) == agreed


@pytest.mark.parametrize(("stated", "told"), [("F", "C"), ("C", "F"), ("C", "tenths-C"), ("tenths-C", "F")])
def test_a_unit_that_contradicts_the_stated_one_is_refused(stated, told):
    with pytest.raises(InputError, match=r"as the file itself says.*Leave --unit out"):
        agree_on_unit(stated, told, FILE)


def test_a_unit_is_never_guessed():
    with pytest.raises(InputError, match="could be °F, °C or tenths of °C"):
        require_unit(None, FILE)


@pytest.mark.parametrize(
    ("fahrenheit", "tenths"),  # whole °F stored as tenths of °C: 5/9 (F - 32), rounded to 0.1
    [(36.0, 22.0), (32.0, 0.0), (28.0, -22.0), (24.0, -44.0), (20.0, -67.0), (16.0, -89.0)],
)
def test_fahrenheit_and_its_stored_tenths_are_one_minimum(fahrenheit, tenths):
    one = as_stored(to_celsius(np.array([fahrenheit]), "F"))
    assert one.tolist() == to_celsius(np.array([tenths]), "tenths-C").tolist()
