"""Numbers of five characters, against the plain way of reading them."""

from __future__ import annotations

import itertools
import re

import numpy as np

from frostgate.sources.records.dly import parse_five_characters


def parse(texts: list[bytes]):
    cells = np.frombuffer(b"".join(text.ljust(8, b"S") for text in texts), np.uint8)
    return parse_five_characters(cells.reshape(-1, 8))


def test_every_number_that_fits_is_read():
    expected = np.arange(-9_999, 100_000)
    numbers, valid = parse([b"%5d" % number for number in expected])
    assert valid.all()
    np.testing.assert_array_equal(numbers, expected)


def test_every_sequence_of_the_telling_characters_is_judged_as_a_pattern_judges_it():
    texts = [bytes(characters) for characters in itertools.product(b" -059", repeat=5)]
    numbers, valid = parse(texts)
    assert valid.tolist() == [re.fullmatch(rb" *-?[0-9]+", text) is not None for text in texts]
    assert numbers[valid].tolist() == [int(text) for text, ok in zip(texts, valid, strict=True) if ok]


def test_no_other_byte_passes_for_a_digit_a_minus_or_a_blank():
    others = [byte for byte in range(256) if byte not in b" -0123456789"]
    texts = [
        bytes([*b"  -12"[:place], byte, *b"  -12"[place + 1 :]]) for byte in others for place in range(5)
    ]
    assert not parse(texts)[1].any()


def test_the_flags_behind_the_number_change_nothing():
    numbers, valid = parse([b"  -22" + bytes([byte] * 3) for byte in range(256)])
    assert valid.all()
    assert set(numbers) == {-22}


def test_the_shape_of_the_cells_is_kept():
    cells = np.frombuffer(b"   17  S" * 6, np.uint8).reshape(2, 3, 8)
    numbers, valid = parse_five_characters(cells)
    assert numbers.tolist() == [[17] * 3] * 2
    assert valid.shape == (2, 3)
