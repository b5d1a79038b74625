"""Regular expressions that are compiled when first used: a morning loads many and needs few."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable


def pattern(text: str, flags: int = 0) -> Callable[[], re.Pattern[str]]:
    """Give what compiles a regular expression once, when it is first asked for.

    Parameters
    ----------
    text
        The regular expression.
    flags
        As `re.compile` takes them.

    Examples
    --------
    >>> share = pattern(r"([0-9]+) ?%")
    >>> share().fullmatch("10 %")[1]
    '10'
    """
    return functools.cache(functools.partial(re.compile, text, flags))
