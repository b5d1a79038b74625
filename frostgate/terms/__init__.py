"""The nouns of the trade: frozen values, checked when made, units in their names.

Arrays are stored as read-only copies, so a value that was once right stays right.
"""

from frostgate.terms.arrays import Dates, Floats, Ints
from frostgate.terms.decisions import LARGEST_TOLERANCE, Night, Outlook, Policy, Verdict
from frostgate.terms.forecast import Forecast
from frostgate.terms.frosts import Completeness, FrostCurve, FrostDates, Side, SiteClimate, day_at_risk
from frostgate.terms.minima import DailyMinima, Station

__all__ = [
    "LARGEST_TOLERANCE",
    "Completeness",
    "DailyMinima",
    "Dates",
    "Floats",
    "Forecast",
    "FrostCurve",
    "FrostDates",
    "Ints",
    "Night",
    "Outlook",
    "Policy",
    "Side",
    "SiteClimate",
    "Station",
    "Verdict",
    "day_at_risk",
]
