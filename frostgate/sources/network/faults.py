"""What can go wrong between here and a server, in words."""

from __future__ import annotations

from http import HTTPStatus

AGAIN = "Try again later."
CHECK_ADDRESS = "Check the address."
PASSING_STATUS = frozenset({408, 429, 500, 502, 503, 504})  # RFC 9110 and 6585: may be asked again


class Fault(Exception):  # noqa: N818  # it says what is at fault; the error for the grower is FrostgateError
    """Why no whole document came.

    Parameters
    ----------
    what
        In words, without a full stop.
    remedy
        What to do about it, one sentence.
    passing
        Whether asking once more may help.
    wait_s
        How long the server asks to wait first [s].

    Examples
    --------
    >>> Fault("the connection was cut").passing
    True
    """

    def __init__(
        self, what: str, *, remedy: str = AGAIN, passing: bool = True, wait_s: float | None = None
    ) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy
        self.passing = passing
        self.wait_s = wait_s


def status_fault(status: int, wait_s: float | None = None) -> Fault:
    """Say what a status means that is no document.

    Examples
    --------
    >>> status_fault(404).what
    'the server answers 404 (not found)'
    >>> status_fault(503, 120.0).what
    'the server answers 503 (service unavailable) and asks to wait 120 s'
    """
    try:
        meaning = f" ({HTTPStatus(status).phrase.lower()})"
    except ValueError:
        meaning = ""
    passing = status in PASSING_STATUS
    asked = f" and asks to wait {wait_s:.0f} s" if wait_s else ""
    what = f"the server answers {status}{meaning}{asked}"
    remedy = AGAIN if passing else "Check the address, and the id in it."
    return Fault(what, remedy=remedy, passing=passing, wait_s=wait_s)
