"""Whole numbers of five characters, read from raw bytes for a whole record at once.

A cell of eight bytes (a value of five characters and three flags) is one 64-bit word, its first character in
the lowest byte. Whether a byte is a digit, a minus or a blank shows in its bits, so all bytes of a word are
judged by one arithmetic operation, and all words of the record by one numpy call.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from frostgate.sources.records.readings import Mask
from frostgate.terms.arrays import Ints

Bytes = npt.NDArray[np.uint8]
Words = npt.NDArray[np.uint64]

_EACH = np.uint64(0x01_01_01_01_01)  # the lowest bit of each of the five characters
_FIVE = np.uint64(0xFF_FF_FF_FF_FF)
_LAST = np.uint64(0x01_00_00_00_00)
_TEN = np.uint64(10)


def parse_five_characters(cells: Bytes) -> tuple[Ints, Mask]:
    """Read the number in the first five bytes of each cell: blanks, perhaps a minus, digits up to the end.

    Parameters
    ----------
    cells
        Shape (..., 8), contiguous.

    Returns
    -------
    numbers, valid
        Each of shape (...); where ``valid`` is False the number means nothing.

    Examples
    --------
    >>> cells = np.frombuffer(b"  -22 I01 234   ", np.uint8).reshape(2, 8)
    >>> parse_five_characters(cells)
    (array([  -22, 10234]), array([ True, False]))
    """
    words = cells.view("<u8")[..., 0] & _FIVE
    digit = (
        words >> np.uint64(4)
    ) & _EACH  # of "0-9", "-" and " " (0x30-0x39, 0x2d, 0x20) only digits have it
    minus = words & ~digit & _EACH  # and of the other two only "-" is odd
    figures = words & (digit * np.uint64(0x0F))
    numbers = _join(figures).astype(np.int64)
    return np.where(minus != 0, -numbers, numbers), _is_number(words, digit, minus, figures)


def _join(figures: Words) -> Words:
    """Put the five figures of each word together: pairs first, then pairs of pairs."""
    figures = figures << np.uint64(24)  # as eight figures, the first three of them 0
    pairs = (figures * _TEN + (figures >> np.uint64(8))) & np.uint64(0x00FF00FF00FF00FF)
    fours = (pairs * np.uint64(100) + (pairs >> np.uint64(16))) & np.uint64(0x0000FFFF0000FFFF)
    return (fours * np.uint64(10_000) + (fours >> np.uint64(32))) & np.uint64(0xFFFFFFFF)


def _is_number(words: Words, digit: Words, minus: Words, figures: Words) -> Mask:
    spelled = _EACH * np.uint64(0x20) + digit * np.uint64(0x10) + minus * np.uint64(0x0D) + figures
    above_nine = (figures + _EACH * np.uint64(6)) & (_EACH * np.uint64(0x10))
    begun = ((digit | minus) << np.uint64(8)) & _EACH
    broken_off = (
        begun | _LAST
    ) & ~digit  # behind a digit or a minus stands a digit, and so does it at the end
    valid: Mask = ((spelled ^ words) | above_nine | broken_off) == 0
    return valid
