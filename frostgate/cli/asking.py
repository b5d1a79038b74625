"""Ask the gate about one site: its past, its forecast, and what its own log has taught."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeAlias

from frostgate.cli.question import Question
from frostgate.errors import TooFewSeasonsError
from frostgate.gate.morning import Morning, ask
from frostgate.terms import Forecast, Policy, SiteClimate

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors

Learn: TypeAlias = "Callable[[Policy, SiteClimate | None, dt.date], OwnErrors | None]"


def ask_site(
    question: Question, coming: Forecast | None, now: dt.datetime, learn: Learn | None = None
) -> tuple[Morning, OwnErrors | None]:
    """Give the morning's answer, and what the site's own log has taught where ``learn`` tells it.

    Raises
    ------
    InputError
        Where a file cannot be used.
    """
    policy, site = question.policy, None
    doubts: tuple[str, ...] = ()
    try:
        site = question.past()
    except TooFewSeasonsError as error:
        doubts = (_sentence(str(error)),)
    question.refuse_another_time(coming, now.date())
    own = None if learn is None else learn(policy, site, now.date())
    morning = ask(
        site,
        coming,
        policy if own is None else own.policy,
        now,
        unit=question.unit_shown(site),
        climate_only=question.climate_only,
        doubts=doubts,
    )
    return morning, own


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
