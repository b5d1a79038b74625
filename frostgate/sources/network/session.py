"""The one session that asks the network. Slow to load: only what really asks imports this."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable
from pathlib import Path

import requests_cache
from requests.exceptions import RequestException

from frostgate import __version__
from frostgate.sources.network.deadline import Deadline, within
from frostgate.sources.network.faults import CHECK_ADDRESS, Fault, status_fault
from frostgate.sources.network.transport import Advance, Terms, WholeDocuments
from frostgate.terms.network import Network

USER_AGENT = f"frostgate/{__version__} (frost risk for gardens; requests-cache)"
STORE = "http.sqlite"
_OK = 200


def ask(
    url: str, network: Network, folder: Path, check: Callable[[bytes], None], advance: Advance | None = None
) -> bytes:
    """Ask for a document: only for what changed, where an earlier answer stands in the folder.

    Parameters
    ----------
    url
        Its address.
    network
        Limits of time and size, and how often to try.
    folder
        Where earlier answers stand, with what the server said to tell changes by.
    check
        Raises a `Fault` where the content is not what was asked for; such an answer is not kept.
    advance
        Called with the bytes that came, and how many there will be.

    Raises
    ------
    Fault
        Where no whole document of the right kind came in time.
    """
    deadline = Deadline(network.wait_s)
    terms = Terms(
        deadline=deadline,
        largest=int(network.largest_mb * 1e6),
        retries=network.retries,
        check=check,
        advance=advance,
    )
    return within(deadline, lambda: _ask_and_mend(url, folder, terms))


def _ask_and_mend(url: str, folder: Path, terms: Terms) -> bytes:
    """Ask; where the store of earlier answers is broken, once more with a new one."""
    store = folder / STORE
    try:
        try:
            return _ask(url, store, terms)
        except sqlite3.OperationalError:  # locked, full or not to be written: whole, but of no use now
            raise
        except sqlite3.DatabaseError:
            store.unlink()
            return _ask(url, store, terms)
    except (OSError, sqlite3.Error) as fault:
        raise Fault(
            f"the folder {folder} cannot be used ({fault})", remedy="Make room there, or name another folder."
        ) from None


def _ask(url: str, store: Path, terms: Terms) -> bytes:
    with contextlib.closing(open_session(store, terms)) as session:
        try:
            response = session.get(url, allow_redirects=False)
        except RequestException:  # what the adapter meets is a Fault already; this is the address itself
            raise Fault("no address that can be asked", remedy=CHECK_ADDRESS, passing=False) from None
        if response.status_code != _OK:  # unchanged, though no earlier answer was shown
            raise status_fault(response.status_code)
        content: bytes = response.content
        return content


def open_session(store: Path, terms: Terms) -> requests_cache.CachedSession:
    """Open the session that keeps answers in a store.

    Nothing counts as fresh in it: how long a document serves is judged by the age of the kept file, at the
    moment that the caller states. So an answer is stored only where the server gave something to tell
    changes by (ETag or Last-Modified), and is confirmed each time it is used. Where that fails, the kept
    file serves and the reason is shown (`documents`), hence no ``stale_if_error`` here.

    Parameters
    ----------
    store
        The file of the store.
    terms
        On what terms documents are taken.
    """
    store.parent.mkdir(parents=True, exist_ok=True)
    session = requests_cache.CachedSession(
        str(store),
        backend="sqlite",
        serializer="json",  # nothing that can be run
        expire_after=requests_cache.EXPIRE_IMMEDIATELY,
        allowable_codes=(_OK,),
        allowable_methods=("GET",),
        stale_if_error=False,
    )
    session.headers.update({"User-Agent": USER_AGENT, "Accept-Encoding": "gzip"})
    for scheme in ("http://", "https://"):
        session.mount(scheme, WholeDocuments(terms))
    return session
