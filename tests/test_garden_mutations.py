"""Garden files spoiled at random: each ends in a garden or in a clear error, never in anything else.

300 are spoiled so that no reading of them can be right, each with the line where it is spoiled; 300 more are
spoiled blindly and may still be sound.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from typing import NamedTuple

import pytest

from frostgate.errors import GardenFileError, InputError
from frostgate.garden.file import read_garden
from frostgate.model.garden import Garden
from tests.garden_text import FULL, LINES

WORDS = {"units", "hemisphere", "unit", "stage", "winters", "form", "density_from", "kind", "starts"}
ABSURD = {
    "elevation": '"99999 m"', "risk": '"300%"', "damage_temp": '"-400F"', "offset": '"99C"',
    "offset_spread": '"55F"', "forecast_offset": '"-77F"', "exposed_from": "-1", "max_age_hours": "1e9",
    "count": "-3", "pot": '"0 gal"', "per_pot": '"900 gal"', "height": '"3 mi"', "analysis": '"99-99-99"',
    "rate": '"-4 tsp/gal"', "most": '"1 tbsp/year"', "density": '"900 g/tsp"', "ec": '"900 mS/cm"',
    "pack": '"-5 lb"', "price": "-0.01", "bucket": '"0.001 tsp"', "scoops": '["50 gal"]', "water_ec": "1e3",
    "from": '"13-01"', "to": '"04-31"', "after": '"-3 days"', "every": '"never"', "feedings": "0",
    "stop_weeks": "-1", "least_days": "1000", "n_per_pot": '"9 t"', "ec_limit": "0", "autumn_risk": '"0%"',
}  # fmt: skip
NEEDED = {"count", "stage", "tree", "analysis", "form", "kind", "starts", "from", "to"}
_STATEMENT = re.compile(r"(\w+) = (.+)")


class Spoiled(NamedTuple):
    how: str
    line: int  # where it is spoiled, counted from 1
    content: bytes


def _with(line: int, *new: str) -> bytes:
    return "\n".join((*LINES[: line - 1], *new, *LINES[line:])).encode()


def _spoil_statement(line, key, value):
    whole = f"{key} = {value}"
    yield Spoiled("key misspelt", line, _with(line, f"{key}x = {value}"))
    yield Spoiled("key twice", line + 1, _with(line, whole, whole))
    yield Spoiled("no equals sign", line, _with(line, f"{key} {value}"))
    yield Spoiled("more behind the value", line, _with(line, f"{whole} {value}"))
    yield Spoiled(
        "another type", line, _with(line, f"{key} = {'3' if value[0] in chr(34) + '[{' else '[[]]'}")
    )
    if value[0] == '"':
        yield Spoiled("no closing quote", line, _with(line, whole[:-1]))
        yield Spoiled("no opening quote", line, _with(line, f"{key} = {value[1:]}"))
        yield Spoiled("curly quotes", line, _with(line, f"{key} = “{value[1:-1]}”"))
        yield Spoiled("an empty text", line, _with(line, f'{key} = ""'))
    if key in WORDS:
        yield Spoiled("word misspelt", line, _with(line, f"{key} = {value[:2]}{value[3:]}"))
    if key in ABSURD:
        yield Spoiled("absurd", line, _with(line, f"{key} = {ABSURD[key]}"))


def _spoil_header(line, header):
    yield Spoiled("bracket lost", line, _with(line, header[:-1]))
    yield Spoiled("table misspelt", line, _with(line, header.replace("[", "[q", 1).replace("[q[", "[[q")))
    yield Spoiled("words for a header", line, _with(line, header.strip("[]")))


def _all_spoiled():
    chance = random.Random(20260317)
    table = 0
    for line, text in enumerate(LINES, 1):
        if text.startswith("["):
            table = line
            yield from _spoil_header(line, text)
        match = _STATEMENT.fullmatch(text)
        if match and match[2] != "[":
            yield from _spoil_statement(line, match[1], match[2])
            if match[1] in NEEDED:
                yield Spoiled("needed key lost", table, _with(line))
        start = sum(len(before) + 1 for before in LINES[: line - 1])
        at = start + chance.randint(0, len(text))
        if line % 6 == 0:
            for how, bad in (("NUL", b"\0"), ("no UTF-8", b"\xff"), ("control character", b"\x01")):
                yield Spoiled(how, line, FULL.encode()[:at] + bad + FULL.encode()[at:])
        if '"' in text and not text.startswith(("#", " ")):
            within = start + text.index('"') + 1
            yield Spoiled("cut within a text", line, FULL.encode()[:within])


SPOILED = random.Random(7).sample(list(_all_spoiled()), 300)


def outcome(file) -> Garden | GardenFileError:
    try:
        return read_garden(file)
    except GardenFileError as error:
        return error


@pytest.mark.parametrize("spoiled", SPOILED, ids=[f"{spoiled.how}-{spoiled.line}" for spoiled in SPOILED])
def test_a_file_spoiled_beyond_reading_is_an_error_on_the_line_where_it_is_spoiled(spoiled, tmp_path):
    file = tmp_path / "garden.toml"
    file.write_bytes(spoiled.content)
    error = outcome(file)
    assert isinstance(error, GardenFileError)
    assert spoiled.line in [mistake.line for mistake in error.mistakes]
    assert all(mistake.file == str(file) and mistake.what for mistake in error.mistakes)


def test_the_300_are_spoiled_in_every_way_there_is():
    ways = Counter(spoiled.how for spoiled in SPOILED)
    assert set(ways) == {spoiled.how for spoiled in _all_spoiled()}
    assert len(SPOILED) == 300
    assert max(ways.values()) < 60


def _spoil_blindly(content: bytes, chance: random.Random) -> bytes:
    lines = content.split(b"\n")
    first, second = (chance.randrange(len(lines)) for _ in range(2))
    at, end = sorted(chance.randrange(len(content)) for _ in range(2))
    match chance.randrange(8):
        case 0:
            return content[:at]
        case 1:
            return content[:at] + content[min(end, at + chance.randrange(1, 40)) :]
        case 2:
            lines[first], lines[second] = lines[second], lines[first]
        case 3:
            del lines[first]
        case 4:
            lines.insert(first, lines[second])
        case 5:
            return content[:at] + bytes([chance.randrange(256)]) + content[at + 1 :]
        case 6:
            return content[:at] + bytes(chance.choice(b'"[]{}=,.#\n 0-') for _ in range(3)) + content[at:]
        case _:
            lines[first] = b"# " + lines[first]
    return b"\n".join(lines)


def test_300_files_spoiled_blindly_end_in_a_garden_or_in_an_error_with_its_lines(tmp_path):
    chance, ends = random.Random(11), Counter()
    file = tmp_path / "garden.toml"
    for _ in range(300):
        content = FULL.encode()
        for _ in range(chance.choice((1, 1, 1, 2, 5))):
            content = _spoil_blindly(content, chance) or b"\n"
        file.write_bytes(content)
        end = outcome(file)
        ends[type(end).__name__] += 1
        if isinstance(end, GardenFileError):
            unplaced = [mistake for mistake in end.mistakes if mistake.line is None]
            assert {mistake.what for mistake in unplaced} <= {"no [[site]] in the file", "an empty file"}
            assert all(isinstance(mistake, InputError) and mistake.remedy for mistake in end.mistakes), str(
                end
            )
    assert ends.total() == 300
    assert ends["Garden"] > 30
    assert ends["GardenFileError"] > 150
