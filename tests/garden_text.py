"""A garden file that uses every key, invented."""

from __future__ import annotations

FULL = """\
# INVENTED
units = "us"
currency = "USD"

[[site]]
name = "Hollin Bank"
elevation = "1020 ft"
record = "oskelmere.dly"
forecast = "forecast.csv"
station = "XX000000017"
hemisphere = "north"
time_zone = "America/New_York"
unit = "F"
risk = "5%"
damage_temp = "30F"
offset = "-1.8F"
offset_spread = "0.9F"
forecast_offset = "-3.6F"
exposed_from = 2
max_age_hours = 36

[[site]]
name = "Far Field"
station = "XX000000017"
forecast = "https://example.org/forecast.json"

[network]
archive = "https://example.org/ghcn"
record_days = 10
forecast_hours = 6
wait_s = 5
retries = 1
offline = true
redirects = ["mirror.example.org"]

[[pots]]
name = "old plums"
tree = "plum"
count = 9
stage = "established"
pot = "9 gal"
per_pot = "3 qt"
height = "6 ft"
winters = "sheltered"
movable = true

[[pots]]
name = "by the wall"
tree = "quince"
count = 3
stage = "in the ground"
height = "2 m"

[[product]]
name = "First feed"
analysis = "17-5-9"
form = "soluble"
rate = "4 tsp/gal"
most = "7 tsp/gal"
density = "5.1 g/tsp"
density_from = "measured"
organic = false
secondary = { Mg = 2.0 }
ec = "0.9 mS/cm at 100 ppm N"
pack = "4 lb"
price = 17.2

[[product]]
name = "Pot granules"
analysis = "8-7-9"
form = "granular"
rate = "5 tsp/pot"

[tools]
bucket = "3.5 gal"
scoops = ["2.5 tsp", "1/2 tsp"]
water_ec = 0.4

[[no_feeding]]
name = "local rule"
from = "11-05"
to = "02-29"

[[phase]]
name = "wake-up"
kind = "liquid"
starts = "gate"
after = "4 weeks"
every = "12 days"
feedings = 3
feed = [
  { product = "First feed", strength = "75%" },  # by the label
  { product = "First feed", n_ppm = 150 },
]
groups = ["old plums"]

[[phase]]
name = "dressing"
kind = "top-dressing"
starts = "bud break"
feedings = 1
feed = [{ product = "Pot granules", strength = "half" }]

[rules]
stop_weeks = 6
least_days = 9
n_per_pot = "18 g"
ec_limit = 2.5
autumn_risk = "20%"
"""

LINES = FULL.split("\n")


def line_of(statement: str, nth: int = 1) -> int:
    """Find the nth line that begins with a statement, counted from 1."""
    found = [number for number, line in enumerate(LINES, 1) if line.startswith(statement)]
    return found[nth - 1]


def changed(old: str, new: str, nth: int = 1) -> str:
    """Change the nth occurrence of a piece of the text."""
    parts = FULL.split(old)
    assert len(parts) > nth, old
    return old.join(parts[:nth]) + new + old.join(parts[nth:])
