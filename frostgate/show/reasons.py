"""The words of the gate's reasons and cautions, once for terminal, JSON and page."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from frostgate.errors import InputError
from frostgate.model.curves import RECENT_DAYS
from frostgate.model.gate import Reason
from frostgate.seasons import say_date, say_day
from frostgate.show.say import counted, listed
from frostgate.units import TemperatureUnit, fahrenheit, say_offset, say_share, say_temperature

SMALLEST_RUN_C = 0.25  # nights that ran less far off were as usual

_IF_FED = "If you feed today, the chance of a damaging frost still to come is"
_BEYOND = (
    "Beyond the forecast, after {after}, this garden still gets a frost of {damage_temp_c:temp} or less in"
)
_AS_ELSEWHERE = "the forecast is taken to be as good as elsewhere"
WORDS = {
    "within-limit": _IF_FED + " {risk:share}; your limit is {limit:share}.",
    "reached-later": _IF_FED + " {over}; your limit is {limit:share}, reached on {reached} as things stand.",
    "never-reached": _IF_FED + " {over}; your limit is {limit:share}, and no date this season is within it.",
    "night-to-watch": "The night to watch ends on {morning}: {garden_c:low} forecast for the garden, chance "
    "of a damaging frost {chance:share}.",
    "no-frosty-night": "No forecast night has a chance of frost above {harmless:share}; the coldest ends on "
    "{morning}: {garden_c:low} in the garden.",
    "by-curve-alone": "By the station's past alone, a frost of {damage_temp_c:temp} or less still comes "
    "after today in {risk:share} of springs.",
    "beyond-forecast": _BEYOND + " {risk:share} of springs.",
    "beyond-forecast-this-spring": _BEYOND + " {risk:share} of springs like this one; by the curve alone in "
    "{by_curve:share}.{past_nights_c:run}",
    "colder-would-shut": "The gate would shut if the coming nights turned out {shift_c_f:shift} colder than "
    "forecast.",
    "milder-would-open": "The gate would open today if the coming nights were forecast {shift_c_f:shift} "
    "milder.",
    "too-early": "No forecast, however mild, would open the gate today: it is too early in the season.",
    "without-that-night": "If the night to {morning} passes without frost, the risk will be {risk:share} and "
    "the gate {opens:gate}.",
    "limit-that-opens": "At a limit of {limit:share} the gate would be open today.",
    "no-forecast": "No forecast was given; give one, or ask for the climate alone.",
    "forecast-of-later": "The forecast was made on {made:year}, after the day asked about.",
    "forecast-stale": "The forecast is {age_hours:g} hours old; more than {max_age_hours:g} is too old to "
    "trust.",
    "forecast-ended": "The forecast ends on {through:year}, before the first night that counts.",
    "forecast-gaps": "The forecast has no minimum for {mornings:some}.",
    "no-record": "No record was given.",
    "no-climate": "{problem}",
    "unknown-not-safe": "Unknown is not safe: do not feed on this answer.",
    "no-own-mornings": f"Your own log has no night near frost yet whose minimum is known: {_AS_ELSEWHERE}.",
    "few-own-mornings": "Your own log has {mornings:mornings} near frost; "
    f"{{fewest}} are the fewest to learn from: {_AS_ELSEWHERE}.",
    "own-errors": "After {mornings:mornings} near frost your forecast runs {mean_error_c:error} here: "
    "{bias_weight:share} of that is taken off, the more the longer you keep the log; its errors are taken to "
    "be {spread_factor:wider}.{far_off:far_off}",
    "own-minima-too-warm": "Over {mornings:mornings} near frost the minima logged here are {warmer_c:offset} "
    "warmer than was forecast, too much to be believed: nothing is learned from them. Check the thermometer.",
    "doubt-offset": "A garden {offset_c:offset} warmer than its station is hard to believe.",
    "doubt-damage-temp": "Tender growth is killed long before {damage_temp_c:temp}.",
    "doubt-record-years": "The record runs to {last_day:year}, a day that is still to come.",
    "doubt-record-maxima": "On {share:share} of its days the record's minimum is above its maximum.",
    "doubt-record-stuck": "The record has one and the same minimum on {days} days running.",
    "doubt-record-clipped": "On {days} days the record lies at its lowest minimum, {tmin_c:temp}, as if "
    "colder ones were cut off or had lost their sign.",
    "doubt-record-jumps": "From eight years to the next eight the record moves by {jump_c:offset}, as if "
    "another thermometer or unit had come.",
    "doubt-recent-nights": "The record's last 60 nights ran {off_c:run_off} than usual there; their unit or "
    "their column may be wrong.",
    "doubt-forecast": "The {nights} nights of the forecast are {off_c:run_off} than usual at the station; "
    "it may be in another unit, or for another place.",
    "doubt-night": "The night to {morning} is forecast {off_c:run_off} than usual at the station; one of the "
    "two may be wrong.",
    "doubt-hemisphere": "The forecast is for a place in the {forecast}, and the station lies in the other "
    "half of the world.",
    "doubt-zone": "The clocks of {zone} are {hours:.0f} hours off the sun at the station: the forecast may "
    "be for another place.",
    "doubt-place": "The forecast is for a place {km:.0f} km from the station.",
    "doubt-suspects": "{suspects} minima that look like plain errors were left out; were they true, the risk "
    "would be {risk:share}.",
    "season-ended": "Feeding ended on {stop} in time for dormancy.",
    "stop-unknown": "It is not known when feeding must end, for no date of the first autumn frost is known.",
    "frost-forecast": "A damaging frost is forecast for the morning of {morning}.",
    "frost-ahead": "The chance of a damaging frost on the coming nights is {over}; your limit is "
    "{limit:share}.",
    "season-goes-on": "Feeding goes on until {stop}: the chance of a damaging frost on the coming nights "
    "is {risk:share}, your limit {limit:share}.",
    "without-forecast": "This answer looks at no forecast: it knows what springs were like, not what is "
    "coming.",
    "never-froze": "No damaging frost in {seasons} seasons does not rule one out: a chance of up to "
    "{chance:share} a season is consistent with that (rule of three).",
    "below-freezing": "Tender growth can be hurt at the freezing point; you chose a lower damage "
    "temperature.",
    "zone-taken": "Nobody states the garden's time zone, so this machine's ({zone}) was taken, and the night "
    "that ends today counts too; say --time-zone, or time_zone in the garden file.",
    "no-promise": "A chance is not a promise: watch the forecast after feeding, and be ready to cover or "
    "move the pots.",
    "cold-hollow": "A regional forecast can miss a cold hollow by many degrees; trust a minimum thermometer "
    "among the pots.",
    "label-first": "Follow the fertilizer's label and local rules on feeding and runoff; they come before "
    "any date here.",
}


def say_reason(reason: Reason, unit: TemperatureUnit = "C") -> str:
    """Say one reason to the grower."""
    facts = dict(reason.facts)
    if "limit" in facts and "risk" in facts:
        risk, limit = say_share(facts["risk"]), say_share(facts["limit"])
        facts["over"] = f"a little over {limit}" if risk == limit else risk
    said = WORDS[reason.code].format_map({name: _Fact(fact, unit) for name, fact in facts.items()})
    return said if reason.name == reason.code else f"{said} If it is right, say --believe {reason.name}."


def say_reasons(reasons: Iterable[Reason], unit: TemperatureUnit = "C") -> list[str]:
    """Say each of several reasons, or cautions, of an answer in a sentence.

    Parameters
    ----------
    reasons : iterable of Reason
        Such as ``answer.verdict.reasons`` or ``answer.cautions``.
    unit : {"C", "F"}
        Of the temperatures in the sentences.

    Raises
    ------
    InputError
        Where there is no such unit.

    Examples
    --------
    >>> night = {"morning": dt.date(2026, 5, 12), "garden_c": -1.1, "chance": 0.32}
    >>> say_reasons([Reason("night-to-watch", night)], "F")
    ['The night to watch ends on Tue 12 May: 30 °F forecast for the garden, chance of a damaging frost 32 %.']
    """
    if unit not in {"C", "F"}:
        raise InputError("no such unit of temperature", value=unit, remedy="Write C or F.")
    return [say_reason(reason, unit) for reason in reasons]


class _Fact(NamedTuple):
    """A fact of a reason, which its place in the words asks for in one of the forms."""

    value: Any
    unit: TemperatureUnit

    def __format__(self, form: str) -> str:
        if isinstance(self.value, dt.date):
            return say_date(self.value) if form == "year" else say_day(self.value)
        return _FORMS[form](self.value, self.unit) if form in _FORMS else format(self.value, form)


def _run(ran_c: float, unit: TemperatureUnit) -> str:
    """Tell how the past 60 nights ran; nothing where that is not known."""
    if math.isnan(ran_c):
        return ""
    off = f"{say_offset(abs(ran_c), unit)} {'milder' if ran_c > 0 else 'colder'} than usual"
    return f" The past {RECENT_DAYS} nights ran {off if abs(ran_c) >= SMALLEST_RUN_C else 'as usual'}."


def _some(mornings: Sequence[dt.date], _: TemperatureUnit) -> str:
    said = [say_date(morning) for morning in mornings[:3]]
    return f"{', '.join(said)} and more" if len(mornings) > 3 else listed(said)


def _error(error_c: float, unit: TemperatureUnit) -> str:
    amount = say_offset(abs(error_c), unit)
    return "true" if amount.startswith("0 ") else f"{amount} too {'warm' if error_c > 0.0 else 'cold'}"


def _wider(factor: float, _: TemperatureUnit) -> str:
    if abs(factor - 1.0) < 0.005:
        return "as wide as elsewhere"
    return f"{abs(factor - 1.0) * 100:.0f} % {'wider' if factor > 1.0 else 'narrower'} than elsewhere"


_FORMS: dict[str, Callable[[Any, TemperatureUnit], str]] = {
    "share": lambda share, _: say_share(share),
    "temp": say_temperature,
    "low": lambda low_c, unit: (
        f"{round(fahrenheit(low_c))} °F" if unit == "F" else say_temperature(low_c, "C")
    ),
    "shift": lambda shift, unit: f"{shift[unit == 'F']:g} °{unit}",
    "offset": lambda degrees_c, unit: say_offset(abs(degrees_c), unit),
    "run_off": lambda off_c, unit: f"{say_offset(abs(off_c), unit)} {'milder' if off_c > 0.0 else 'colder'}",
    "gate": lambda opens, _: "open" if opens else "still shut",
    "run": _run,
    "some": _some,
    "mornings": lambda mornings, _: counted(mornings, "morning"),
    "error": _error,
    "wider": _wider,
    "far_off": lambda count, _: (
        f" {count} of them lay far off and count{'s'[count != 1 :]} less." if count else ""
    ),
}
