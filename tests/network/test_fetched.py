"""What is fetched, when it is fetched anew, what is asked of the server, and how it is kept."""

from __future__ import annotations

import datetime as dt
import gzip
import subprocess
import sys

import pytest

from frostgate import __version__
from frostgate.errors import FrostgateError, InputError
from frostgate.model.garden import Network
from frostgate.sources.fetched import (
    Fetched,
    fetch_forecast,
    fetch_list,
    fetch_record,
    find_kept,
    keep,
    record_file,
)
from frostgate.sources.records import read_minima
from tests.network import server as ways
from tests.network.invented import LONG_AGO, NOW, STATION, dly, forecast_json, inventory_txt, stations_txt

RECORD = f"/daily/all/{STATION}.dly"
OLD, NEW = dly(years=range(1990, 2026)), dly(years=range(1990, 2027))
DAY = dt.timedelta(days=1)


def test_a_record_is_fetched_and_read(server, network, tmp_path):
    server.ways[RECORD] = ways.whole(NEW)

    fetched = fetch_record(STATION.lower(), network, tmp_path, now=NOW)

    assert fetched == Fetched(path=tmp_path / "records" / f"{STATION}.dly", fetched_at=NOW)
    assert fetched.path.read_bytes() == NEW
    assert read_minima(fetched.path).station.id == STATION
    assert find_kept(fetched.path) == fetched


def test_the_server_is_told_who_asks(server, network, tmp_path):
    server.ways[RECORD] = ways.whole(NEW)

    fetch_record(STATION, network, tmp_path, now=NOW)

    _, headers = server.asked[0]
    assert headers["User-Agent"].startswith(f"frostgate/{__version__} (")
    assert headers["Accept-Encoding"] == "gzip"


@pytest.mark.parametrize(
    ("document", "limit"),
    [("record", dt.timedelta(days=7)), ("list", dt.timedelta(days=90)), ("forecast", dt.timedelta(hours=3))],
)
def test_each_kind_of_document_is_fetched_anew_by_its_own_age(server, network, tmp_path, document, limit):
    server.ways |= {
        RECORD: ways.whole(NEW),
        "/daily/ghcnd-stations.txt": ways.whole(stations_txt()),
        "/f": ways.whole(forecast_json()),
    }

    def fetch(now):
        if document == "record":
            return fetch_record(STATION, network, tmp_path, now=now)
        if document == "list":
            return fetch_list("ghcnd-stations.txt", network, tmp_path, now=now)
        return fetch_forecast(f"{server.address}/f", network, tmp_path, now=now)

    second = dt.timedelta(seconds=1)
    moments = (NOW, NOW + limit - second, NOW + limit + second)
    ages = [(fetch(now).fetched_at, len(server.asked)) for now in moments]

    assert ages == [(NOW, 1), (NOW, 1), (NOW + limit + second, 2)]


@pytest.mark.parametrize(
    ("marks", "header"),
    [
        ({"etag": '"v1"'}, "If-None-Match"),
        ({"modified": "Sun, 12 Apr 2026 04:00:00 GMT"}, "If-Modified-Since"),
    ],
    ids=["etag", "last modified"],
)
def test_what_has_not_changed_is_not_sent_again_and_its_age_is_renewed(
    server, network, tmp_path, marks, header
):
    server.ways[RECORD] = ways.whole(NEW, **marks)
    fetch_record(STATION, network, tmp_path, now=NOW)

    again = [fetch_record(STATION, network, tmp_path, now=NOW + 8 * days * DAY) for days in (1, 2)]

    assert [one.fetched_at for one in again] == [NOW + 8 * DAY, NOW + 16 * DAY]
    assert all(one.stale is None for one in again)
    assert again[-1].path.read_bytes() == NEW
    assert server.bodies_sent == 1
    assert [header in headers for _, headers in server.asked] == [False, True, True]


def test_what_has_changed_replaces_the_kept_copy(server, network, tmp_path):
    server.ways[RECORD] = ways.in_turn(ways.whole(OLD, etag='"1"'), ways.whole(NEW, etag='"2"'))
    fetch_record(STATION, network, tmp_path, now=NOW)

    fetched = fetch_record(STATION, network, tmp_path, now=NOW + 8 * DAY)

    assert fetched.path.read_bytes() == NEW
    assert server.bodies_sent == 2


def test_without_anything_to_tell_changes_by_the_whole_is_sent_again(server, network, tmp_path):
    server.ways[RECORD] = ways.whole(NEW)

    for days in (0, 8):
        fetched = fetch_record(STATION, network, tmp_path, now=NOW + days * DAY)

    assert server.bodies_sent == 2
    assert fetched.fetched_at == NOW + 8 * DAY


@pytest.mark.parametrize(
    ("sent", "headers"),
    [
        (forecast_json(), {"Content_Type": "text/plain"}),
        (forecast_json(), {"Content_Type": "application/json"}),
        (forecast_json(), {"Content_Type": "application/octet-stream"}),
        (gzip.compress(forecast_json()), {"Content_Encoding": "gzip"}),
    ],
)
def test_a_kept_file_that_was_removed_comes_back_byte_for_byte_without_being_sent(
    server, network, tmp_path, sent, headers
):
    server.ways["/f"] = ways.whole(sent, etag='"1"', **headers)
    url = f"{server.address}/f"
    fetch_forecast(url, network, tmp_path, now=NOW).path.unlink()

    assert fetch_forecast(url, network, tmp_path, now=NOW).path.read_bytes() == forecast_json()
    assert server.bodies_sent == 1


@pytest.mark.parametrize("way", [ways.packed(NEW), ways.packed(NEW, "x-gzip"), ways.chunked(NEW)])
def test_packed_and_chunked_answers_are_put_together(server, network, tmp_path, way):
    server.ways[RECORD] = way

    assert fetch_record(STATION, network, tmp_path, now=NOW).path.read_bytes() == NEW


@pytest.mark.parametrize("code", [301, 302, 303, 307, 308])
def test_a_moved_document_is_followed(server, network, tmp_path, code):
    server.ways |= {RECORD: ways.redirect("/there", code), "/there": ways.whole(NEW, etag='"1"')}

    for days in (0, 8):
        fetched = fetch_record(STATION, network, tmp_path, now=NOW + days * DAY)

    assert fetched.path.read_bytes() == NEW
    assert server.bodies_sent == 1


def test_offline_uses_what_is_kept_and_asks_nobody(server, tmp_path):
    network = Network(archive=f"{server.address}/daily", offline=True)
    keep(OLD, record_file(STATION, tmp_path), LONG_AGO)

    fetched = fetch_record(STATION, network, tmp_path, now=NOW)

    assert fetched.path.read_bytes() == OLD
    assert "30 days old" in fetched.stale
    assert "not to be asked" in fetched.stale
    assert fetch_record(STATION, network, tmp_path, now=LONG_AGO).stale is None
    assert server.asked == []


def test_offline_with_nothing_kept_is_said(tmp_path):
    with pytest.raises(FrostgateError, match="is kept") as caught:
        fetch_record(STATION, Network(offline=True), tmp_path, now=NOW)

    assert "--offline" in caught.value.remedy


def test_a_copy_from_the_future_is_not_taken_for_fresh(network, tmp_path):
    """The machine's clock was set back."""
    keep(OLD, record_file(STATION, tmp_path), NOW + 40 * DAY)

    fetched = fetch_record(STATION, network, tmp_path, now=NOW)

    assert "clock was set back" in fetched.stale


def test_progress_is_told_up_to_the_whole(server, network, tmp_path):
    server.ways[RECORD] = ways.whole(NEW)
    told = []

    fetch_record(STATION, network, tmp_path, now=NOW, advance=lambda done, of: told.append((done, of)))

    assert told[-1] == (len(NEW), len(NEW))
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_progress_of_an_unknown_whole_is_told_as_such(server, network, tmp_path):
    server.ways[RECORD] = ways.chunked(NEW)
    told = []

    fetch_record(STATION, network, tmp_path, now=NOW, advance=lambda done, of: told.append((done, of)))

    assert told[-1] == (len(NEW), None)


def test_a_broken_store_of_answers_is_made_anew(server, network, tmp_path):
    (tmp_path / "http.sqlite").write_bytes(b"not a database at all, but long enough to be looked at" * 40)
    server.ways[RECORD] = ways.whole(NEW, etag='"1"')

    for days in (0, 8):
        assert fetch_record(STATION, network, tmp_path, now=NOW + days * DAY).stale is None

    assert server.bodies_sent == 1


def test_a_store_that_cannot_be_used_is_said(network, tmp_path):
    (tmp_path / "http.sqlite").mkdir()
    keep(OLD, record_file(STATION, tmp_path), LONG_AGO)

    assert "cannot be used" in fetch_record(STATION, network, tmp_path, now=NOW).stale


def test_a_folder_that_cannot_be_written_to_is_said(server, network, tmp_path):
    (tmp_path / "records").write_text("a file where a folder should be")
    server.ways[RECORD] = ways.whole(NEW)

    with pytest.raises(FrostgateError, match="cannot be written into"):
        fetch_record(STATION, network, tmp_path, now=NOW)


@pytest.mark.parametrize("station", ["", "XX00000001", "../../../x17", "XX0000000177", "XX00000001/"])
def test_an_id_that_is_none_asks_nobody_and_writes_nowhere(server, network, tmp_path, station):
    with pytest.raises(InputError, match="not the id"):
        fetch_record(station, network, tmp_path, now=NOW)
    with pytest.raises(InputError, match="not the id"):
        record_file(station, tmp_path)

    assert server.asked == []


@pytest.mark.parametrize("url", ["forecast.json", "ftp://example.invalid/f", "file:///f"])
def test_only_web_addresses_are_asked(network, tmp_path, url):
    with pytest.raises(FrostgateError, match="no address that can be asked"):
        fetch_forecast(url, network, tmp_path, now=NOW)


@pytest.mark.parametrize(
    "content",
    [b"date,low\n2026-04-12,41\n", b"date,tmin_f,issued\n2026-04-12,41,2026-04-11T18:00+02:00\n"],
    ids=["unit not stated", "time zone not stated"],
)
def test_a_forecast_that_needs_the_growers_word_is_kept(server, network, tmp_path, content):
    server.ways["/f"] = ways.whole(content)

    assert fetch_forecast(f"{server.address}/f", network, tmp_path, now=NOW).path.read_bytes() == content


def test_forecasts_of_two_addresses_do_not_meet(server, network, tmp_path):
    server.ways |= {f"/{n}": ways.whole(forecast_json(n)) for n in (1, 2)}

    fetched = [fetch_forecast(f"{server.address}/{n}", network, tmp_path, now=NOW) for n in (1, 2)]

    assert [one.path.read_bytes() for one in fetched] == [forecast_json(1), forecast_json(2)]


def test_the_inventory_is_fetched(server, network, tmp_path):
    server.ways["/daily/ghcnd-inventory.txt"] = ways.whole(inventory_txt())

    fetched = fetch_list("ghcnd-inventory.txt", network, tmp_path, now=NOW)

    assert fetched.path.read_bytes() == inventory_txt()


def test_nothing_slow_is_loaded_before_the_network_is_asked():
    code = "import sys; from frostgate.sources.fetched import fetch_record; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert not {"requests", "requests_cache", "urllib3", "pandas", "scipy", "sqlite3"} & set(
        done.stdout.split()
    )


def test_what_a_killed_program_left_is_cleared_away(tmp_path):
    path = record_file(STATION, tmp_path)
    for pid, age in ((1, DAY), (2, dt.timedelta(minutes=1))):
        keep(b"half", path.with_name(f".{path.name}.{pid}.part"), NOW - age)

    keep(NEW, path, NOW)

    assert sorted(one.name for one in path.parent.iterdir()) == [f".{path.name}.2.part", path.name]


def test_a_write_that_fails_leaves_what_was_kept(tmp_path, monkeypatch):
    path = record_file(STATION, tmp_path)
    keep(OLD, path, LONG_AGO)
    monkeypatch.setattr("os.utime", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))

    with pytest.raises(InputError, match="No space"):
        keep(NEW, path, NOW)

    assert {one.name: one.read_bytes() for one in path.parent.iterdir()} == {path.name: OLD}


def test_an_empty_file_is_not_kept(tmp_path):
    path = record_file(STATION, tmp_path)
    path.parent.mkdir()
    path.touch()

    assert find_kept(path) is None


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0.01, "less than a minute old"),
        (1 / 60, "1 minute old"),
        (1.6, "2 hours old"),
        (47.9, "48 hours old"),
        (48.0, "2 days old"),
    ],
)
def test_ages_are_said_as_one_says_them(tmp_path, hours, words):
    assert Fetched(path=tmp_path, fetched_at=NOW - dt.timedelta(hours=hours)).age(NOW) == words
