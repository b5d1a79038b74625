"""From a place to its stations and their records, end to end, by a server on this machine."""

from __future__ import annotations

import datetime as dt
import io
import sys

import pytest

from frostgate.cli.options import progress_bar
from frostgate.sources.fetched import keep, record_file
from tests.network import server as ways
from tests.network.invented import dly, inventory_txt, stations_txt

GARDEN = ("51.05N", "2.45W")


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def kept(tmp_path, monkeypatch):
    """A folder of its own for what is kept."""
    monkeypatch.setenv("FROSTGATE_CACHE", str(tmp_path))
    return tmp_path / "network"


@pytest.fixture
def archive(kept, monkeypatch):  # noqa: ARG001  # it sets the folder
    """A small archive of invented stations."""
    ways.forget_proxies(monkeypatch)
    with ways.running_server() as server:
        server.ways |= {
            "/ghcnd-stations.txt": ways.whole(stations_txt()),
            "/ghcnd-inventory.txt": ways.whole(inventory_txt()),
            "/all/XX000000017.dly": ways.whole(dly("XX000000017", range(1990, 2026))),
            "/all/XX000000018.dly": ways.whole(dly("XX000000018", range(2019, 2026))),
        }
        yield server


@pytest.fixture
def near(run, archive):
    return lambda *asked: run("stations", "near", *asked, "--archive", archive.address, "--wait", "600")


@pytest.fixture
def get(run, archive):
    return lambda *asked: run("stations", "get", *asked, "--archive", archive.address, "--wait", "600")


def test_the_likely_best_station_comes_first(near):
    answer = near(*GARDEN, "--elevation", "140m", "--format", "json").json

    rows = answer["stations"]
    assert [row["id"][-2:] for row in rows] == ["17", "18", "19", "20"]
    assert rows[0]["distance_km"] == pytest.approx(6.57, abs=0.01)  # pyproj, WGS84: 6.58
    assert rows[0]["station_less_place_m"] == -28.0
    assert rows[2]["station_less_place_m"] is None
    assert [row["reason"] for row in rows] == [
        None,
        None,
        "only 6 years of minima",
        "its minima end in 1984",
    ]
    assert (rows[1]["first_year"], rows[1]["last_year"]) == (1957, 2026)
    assert answer["found"] == 4
    assert answer["to_year"] == 2026
    assert all(row["share"] is None for row in rows)


def test_the_text_tells_the_order_its_reasons_and_what_to_do_next(near):
    done = near(*GARDEN, "--elevation", "140m")

    assert done.status == 0
    assert "4 of 4 within 100 km" in done.out
    assert "XX000000017  OSKELMERE " in done.out
    assert "- XX000000020, " in done.out
    assert "its minima end in 1984" in done.out
    assert "Next: frostgate stations get XX000000017" in done.out
    assert "from memory" in done.out
    assert "common practice, no source" in " ".join(done.out.split())
    assert max(map(len, done.out.splitlines())) <= 102


def test_miles_and_feet_are_answered_in_kind(near):
    done = near(*GARDEN, "--elevation", "459ft", "--within", "60mi")

    assert "within 60 mi" in done.out
    assert "4.1 mi   -92 ft" in done.out


@pytest.mark.parametrize(
    "place", [("51.05", "-2.45"), ("51.05°", "−2.45"), ("51.05n", "2.45w"), ("+51.05", "2.45 W")]
)
def test_a_place_may_be_written_in_several_ways(near, place):
    assert near(*place, "--format", "json").json["longitude"] == -2.45


def test_south_of_the_equator_both_may_be_negative(near):
    answer = near("-33.9", "-60.0", "--format", "json").json

    assert [row["id"] for row in answer["stations"]] == ["XX000000021"]


def test_checked_stations_are_fetched_and_counted(near, archive):
    answer = near(*GARDEN, "--elevation", "140m", "--check", "2", "--format", "json").json

    by_id = {row["id"]: row for row in answer["stations"]}
    assert by_id["XX000000017"]["share"] == 1.0
    assert by_id["XX000000017"]["springs"] == 36
    assert by_id["XX000000018"]["springs"] == 7
    assert by_id["XX000000018"]["reason"] == "only 7 springs known"  # though the inventory has it from 1957
    assert by_id["XX000000019"]["share"] is None
    assert [path for path, _ in archive.asked if path.endswith(".dly")] == [
        "/all/XX000000017.dly",
        "/all/XX000000018.dly",
    ]


def test_a_kept_record_is_counted_without_being_asked_for(near, archive, kept):
    content = dly("XX000000018", range(1990, 2026))
    keep(content, record_file("XX000000018", kept), dt.datetime.now(dt.UTC))

    answer = near(*GARDEN, "--format", "json").json

    assert {row["id"]: row["springs"] for row in answer["stations"]}["XX000000018"] == 36
    assert not [path for path, _ in archive.asked if path.endswith(".dly")]


def test_a_record_that_cannot_be_counted_is_said_and_not_dropped(near, archive, kept):
    archive.ways["/all/XX000000017.dly"] = ways.web_page
    keep(b"nonsense", record_file("XX000000018", kept), dt.datetime.now(dt.UTC))

    answer = near(*GARDEN, "--check", "1", "--format", "json").json

    assert len(answer["stations"]) == 4
    notes = " ".join(answer["notes"])
    assert "XX000000017 was not counted" in notes
    assert "a web page came" in notes
    assert "XX000000018 was not counted" in notes


def test_an_old_record_that_had_to_be_counted_is_said_to_be_old(near, archive, kept):
    long_ago = dt.datetime.now(dt.UTC) - dt.timedelta(days=20)
    keep(dly("XX000000017"), record_file("XX000000017", kept), long_ago)
    archive.ways["/all/XX000000017.dly"] = ways.status(404)

    answer = near(*GARDEN, "--check", "1", "--format", "json").json

    assert answer["stations"][0]["springs"] == 36
    assert answer["notes"][0].startswith("XX000000017 is 20 days old: no newer record")


def test_the_lists_are_asked_for_once(near, archive):
    near(*GARDEN)
    near(*GARDEN)

    assert [path for path, _ in archive.asked] == ["/ghcnd-stations.txt", "/ghcnd-inventory.txt"]


def test_an_old_list_serves_where_no_newer_one_comes(near, archive, kept):
    long_ago = dt.datetime.now(dt.UTC) - dt.timedelta(days=200)
    keep(stations_txt(), kept / "lists" / "ghcnd-stations.txt", long_ago)
    archive.ways["/ghcnd-stations.txt"] = ways.status(404)

    notes = " ".join(near(*GARDEN, "--format", "json").json["notes"])

    assert "200 days old" in notes
    assert "answers 404" in notes


def test_a_record_is_fetched_and_told_of(get, kept):
    done = get("XX000000017")

    path = kept / "records" / "XX000000017.dly"
    assert done.status == 0
    assert done.out.splitlines() == [
        "XX000000017, less than a minute old",
        f"  {path}",
        "  Minima from 1990-01-01 to 2025-12-31, 100 % of the days known, 36 springs known",
        f"  Next: frostgate curve {path}",
    ]
    assert path.exists()


def test_what_was_fetched_can_be_used(run, get):
    path = get("xx000000017", "--format", "json").json["records"][0]["file"]

    assert run("record", path, "--format", "json").json["station"] == "XX000000017"


def test_an_old_copy_that_had_to_serve_is_said_to_be_old(get, archive, kept):
    long_ago = dt.datetime.now(dt.UTC) - dt.timedelta(days=20)
    keep(dly("XX000000017"), record_file("XX000000017", kept), long_ago)
    archive.ways["/all/XX000000017.dly"] = ways.status(404)

    text, answer = get("XX000000017"), get("XX000000017", "--format", "json").json["records"][0]

    assert text.status == 0
    assert "20 days old" in text.out
    assert "answers 404" in " ".join(text.out.split())
    assert answer["stale"].startswith("20 days old: no newer record")


@pytest.mark.parametrize("form", ["text", "json"])
def test_one_of_several_that_does_not_come_keeps_no_other_back(get, form):
    done = get("XX000000017", "XX000000099", "--format", form)

    assert done.status == 2
    assert "XX000000017" in done.out
    assert "404" in done.out
    if form == "json":
        assert [one["station"] for one in done.json["records"]] == ["XX000000017"]
        assert done.json["failed"][0]["file"].endswith("/all/XX000000099.dly")


def test_offline_answers_from_what_is_kept(near, get, archive):
    get("XX000000017")
    near(*GARDEN)
    asked = len(archive.asked)

    assert get("XX000000017", "--offline").status == 0
    assert near(*GARDEN, "--offline").status == 0
    assert len(archive.asked) == asked


@pytest.mark.parametrize(
    ("command", "arguments", "words"),
    [
        ("near", ("51.05N",), "Missing argument"),
        ("near", ("2.45W", "51.05N"), "The latitude comes first"),
        ("near", ("north", "west"), "not a latitude"),
        ("near", ("95", "2"), "between 90S and 90N"),
        ("near", ("51", "181"), "between 180W"),
        ("near", ("-51S", "2"), "its sign or its letter"),
        ("near", (*GARDEN, "--within", "100"), "not a distance with its unit"),
        ("near", (*GARDEN, "--within", "0km"), "between 0 and"),
        ("near", (*GARDEN, "--elevation", "310"), "not a length with its unit"),
        ("near", ("0", "0"), "no station with minima within 100 km"),
        ("near", (*GARDEN, "--nearly", "5"), "--nearly"),
        ("get", (), "Missing argument"),
        ("get", ("OSKELMERE",), "not the id of a GHCN-Daily station"),
        ("get", ("XX000000099",), "answers 404"),
    ],
)
def test_what_cannot_be_meant_is_refused(near, get, command, arguments, words):
    done = {"near": near, "get": get}[command](*arguments)

    assert done.status == 2
    assert words in done.err


def test_a_terminal_sees_how_much_has_come(near, monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)

    assert near(*GARDEN, "--check", "1").status == 0
    assert "Their years" in terminal.getvalue()
    assert "Counting records" in terminal.getvalue()
    assert "100%" in terminal.getvalue()


def test_an_unknown_size_moves_no_bar(monkeypatch):
    monkeypatch.setattr(sys, "stderr", Terminal())

    with progress_bar("Stations") as advance:
        advance(5000, None)

    assert "100%" not in sys.stderr.getvalue()


def test_offline_with_nothing_kept_says_so(near, get):
    assert "is kept" in near(*GARDEN, "--offline").err
    assert "Leave --offline out" in get("XX000000017", "--offline").err


def test_an_archive_without_an_address_is_refused(run):
    assert "an address begins with" in run("stations", "get", "XX000000017", "--archive", "a/b").err
