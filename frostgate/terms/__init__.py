"""The nouns of the trade: frozen values, checked when made, units in their names.

Arrays are stored as read-only copies, so a value that was once right stays right. The nouns of the
feeding season are imported from their own modules (`garden`, `products`, `feedings`, `journal`), so that the
gate does not wait for them.
"""

from frostgate.terms.arrays import Dates, Floats, Ints
from frostgate.terms.forecast import Forecast
from frostgate.terms.frosts import Completeness, FrostCurve, FrostDates, Side, SiteClimate, day_at_risk
from frostgate.terms.minima import DailyMinima, Station
from frostgate.terms.outlook import Night, Outlook, Seen, is_within
from frostgate.terms.policy import LARGEST_TOLERANCE, Policy
from frostgate.terms.verdict import Verdict
from frostgate.terms.weather import RECENT_DAYS, Weather
from frostgate.terms.years import BASES, Basis, BasisScore, Trend, YearsChoice, YearsWish

__all__ = [
    "BASES",
    "LARGEST_TOLERANCE",
    "RECENT_DAYS",
    "Basis",
    "BasisScore",
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
    "Seen",
    "Side",
    "SiteClimate",
    "Station",
    "Trend",
    "Verdict",
    "Weather",
    "YearsChoice",
    "YearsWish",
    "day_at_risk",
    "is_within",
]
