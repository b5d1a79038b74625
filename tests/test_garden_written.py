"""Values as a garden file writes them: read to the last bound, refused beyond it."""

from __future__ import annotations

import pytest

from frostgate.errors import InputError
from frostgate.garden import written
from frostgate.seasons import parse_month_day

FOOT_M, GALLON_L = 0.3048, 3.785411784  # exact: NIST Handbook 44, appendix C

READ = [
    (written.parse_name, "Hollin Bank", "Hollin Bank"),
    (written.parse_name, "Höllow Ēnd", "Höllow Ēnd"),
    (written.parse_name, "x" * 80, "x" * 80),
    (written.parse_file_name, "records/oskelmere dly.csv", "records/oskelmere dly.csv"),
    (written.parse_elevation_m, "1020 ft", 1020 * FOOT_M),
    (written.parse_elevation_m, "-3.5m", -3.5),
    (written.parse_elevation_m, "−12 ft", -12 * FOOT_M),
    (written.parse_elevation_m, "0 m", 0.0),
    (written.parse_elevation_m, "0.0ft", 0.0),
    (written.parse_elevation_m, "-450 m", -450.0),
    (written.parse_elevation_m, "9000 m", 9000.0),
    (written.parse_damage_temp_c, "28F", -20 / 9),
    (written.parse_damage_temp_c, "-40F", -40.0),
    (written.parse_damage_temp_c, "59F", 15.0),
    (written.parse_tolerance, "50%", 0.5),
    (written.parse_tolerance, "0.1", 0.1),
    (written.parse_spread_c, "0F", 0.0),
    (written.parse_spread_c, "18F", 10.0),
    (written.parse_zone, "America/New_York", "America/New_York"),
    (written.parse_zone, "UTC", "UTC"),
    (written.parse_zone, "UTC+05:45", "UTC+05:45"),
    (written.parse_days, "0 days", 0),
    (written.parse_days, "1 day", 1),
    (written.parse_days, "4 Weeks", 28),
    (written.parse_days, "366days", 366),
    (written.parse_interval, "1 week", 7),
    (written.parse_strength, "full", 1.0),
    (written.parse_strength, "Half", 0.5),
    (written.parse_strength, "quarter", 0.25),
    (written.parse_strength, "75%", 0.75),
    (written.parse_strength, "0.4", 0.4),
    (parse_month_day, "02-29", (2, 29)),
    (parse_month_day, "12-31", (12, 31)),
    (written.parse_pot_l, "7 gal", 7 * GALLON_L),
    (written.parse_pot_l, "50 ml", 0.05),
    (written.parse_per_pot_l, "1 gal", GALLON_L),
    (written.parse_vessel_l, "3.5gal", 3.5 * GALLON_L),
    (written.parse_scoop_l, "1/4 tsp", GALLON_L / 768 / 4),
    (written.parse_height_m, "6 ft", 6 * FOOT_M),
    (written.parse_nitrogen_g, "1 oz", 28.349523125),
]

REFUSED = [
    (written.parse_name, ["", " ", " x", "x ", "a\tb", "a\nb", "a\x7fb", "x" * 81]),
    (written.parse_file_name, ["", " ", "a\nb", "a\0b"]),
    (written.parse_elevation_m, ["", "120", "high", "-451 m", "9001 m", "--3 m", "3 gal", "12 km", "1e3m"]),
    (written.parse_damage_temp_c, ["32", "-41C", "15.1C", "warm"]),
    (written.parse_tolerance, ["0%", "50.1%", "10", "-1%", "much"]),
    (written.parse_spread_c, ["-1F", "10.1C", "1"]),
    (written.parse_zone, ["", "Atlantis", "America", "UTC+15:00", "UTC+5", "../etc/passwd", "\0"]),
    (written.parse_days, ["", "10", "days", "-1 days", "1.5 days", "367 days", "53 weeks", "99999 days"]),
    (written.parse_interval, ["0 days", "0 weeks", "never"]),
    (written.parse_strength, ["", "0%", "0", "101%", "double", "1.5", "-50%"]),
    (
        parse_month_day,
        ["02-30", "04-31", "13-01", "00-10", "01-00", "1-1", "11/15", "2026-11-15", ""],
    ),
    (written.parse_pot_l, ["49 ml", "5001 l", "7", "7 lb", "0 gal"]),
    (written.parse_per_pot_l, ["9 ml", "501 l"]),
    (written.parse_vessel_l, ["99 ml", "20001 l"]),
    (written.parse_scoop_l, ["0.1 ml", "2.1 l", "5 g"]),
    (written.parse_height_m, ["4 cm", "51 m"]),
    (written.parse_nitrogen_g, ["9 mg", "2.1 kg", "6 ml"]),
]


@pytest.mark.parametrize(
    ("read", "text", "value"), READ, ids=[f"{read.__name__} {text[:30]}" for read, text, _ in READ]
)
def test_a_value_is_read(read, text, value):
    assert read(text) == (pytest.approx(value, rel=1e-12, abs=1e-12) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("read", "text"),
    [(read, text) for read, texts in REFUSED for text in texts],
    ids=[f"{read.__name__} {text[:30]!r}" for read, texts in REFUSED for text in texts],
)
def test_what_no_garden_has_is_refused_with_the_text(read, text):
    with pytest.raises(InputError) as caught:
        read(text)
    assert caught.value.value == text.removeprefix("-") or caught.value.value == text
