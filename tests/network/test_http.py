"""Every way to fail ends in the kept copy with its reason, or in a clear error: never in half a file."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import json
import logging
import re
import socket
import threading
from dataclasses import replace
from pathlib import Path

import pytest
import requests
from urllib3.response import HTTPResponse

from frostgate.errors import FrostgateError
from frostgate.sources import http
from frostgate.sources.fetched import (
    fetch_forecast,
    fetch_list,
    fetch_record,
    find_kept,
    keep,
    record_file,
)
from tests.network import server as ways
from tests.network.invented import LONG_AGO, NOW, STATION, dly, forecast_json, inventory_txt, stations_txt

RECORD = f"/daily/all/{STATION}.dly"
NEW = dly(years=range(1990, 2027))
OLD = dly(years=range(1990, 2026))

FAULTS = {
    "not found": (ways.status(404), r"answers 404 \(not found\)"),
    "gone for good": (ways.status(410), r"answers 410 \(gone\)"),
    "forbidden": (ways.status(403), r"answers 403"),
    "a code that is none": (ways.status(799), r"answers 799$"),
    "server error": (ways.status(500), r"answers 500"),
    "busy, wait long": (ways.status(503, Retry_After="120"), r"answers 503 .* asks to wait 120 s"),
    "busy, wait until": (
        ways.status(503, Retry_After="Fri, 01 Jan 2100 00:00:00 GMT"),
        r"answers 503 .* asks to wait \d{4,} s",
    ),
    "busy, wait for nonsense": (ways.status(503, Retry_After="a while"), r"answers 503 \([a-z ]*\)$"),
    "too many requests": (ways.status(429, Retry_After="60"), r"answers 429 .* asks to wait 60 s"),
    "no answer": (ways.never, r"no answer within 0.1 s"),
    "slow drip": (ways.drip(NEW), r"not whole within 60 s"),
    "slow drip of headers": (ways.drip_head, r"not whole within 60 s"),
    "cut": (ways.promise(NEW[: len(NEW) // 2], len(NEW)), r"the connection was cut"),
    "cut at a line's end": (ways.promise(NEW[: 270 * 200], len(NEW)), r"the connection was cut"),
    "cut chunks": (ways.chunked(NEW, cut=True), r"the connection was cut"),
    "cut gzip": (ways.packed_and_cut(NEW), r"packed as gzip, but broken"),
    "no gzip at all": (ways.whole(NEW, Content_Encoding="gzip"), r"packed as gzip, but broken"),
    "another packing": (ways.whole(NEW, Content_Encoding="br"), r"packed as br"),
    "hang up": (ways.hang_up, r"the connection was cut"),
    "no length, cut in a line": (ways.unpromised(NEW[:-5]), r"without its length, and ends inside a line"),
    "redirect to another site": (ways.redirect("http://localhost/x"), r"to another site, localhost"),
    "promises more": (ways.promise(NEW, len(NEW) + 7), r"the connection was cut"),
    "promises less": (ways.promise(NEW, 1000), r"a line cut short"),
    "empty": (ways.whole(b""), r"an empty file"),
    "garbage": (ways.garbage, r"not a text file|not a record"),
    "no HTTP at all": (ways.not_http, r"the connection was cut|cannot be reached"),
    "web page": (ways.web_page, r"a web page came"),
    "another station": (ways.whole(dly("XX000000018")), r"no such station in this file"),
    "no minima": (ways.whole(NEW.replace(b"TMIN", b"TMAX")), r"holds no TMIN"),
    "redirect loop": (ways.redirect(RECORD), r"redirected over 5 times"),
    "redirect to a file": (ways.redirect("file:///etc/hostname"), r"redirected from http to file"),
    "redirect to ftp": (ways.redirect("ftp://127.0.0.1/x"), r"redirected from http to ftp"),
    "redirect to nowhere": (ways.redirect("http://["), r"no address that can be asked"),
    "redirect to no port": (ways.redirect("http://127.0.0.1:99999/"), r"no address that can be asked"),
    "redirect without target": (ways.status(302), r"answers 302"),
    "redirect without end": (ways.endless_chunks(302, Location=RECORD), r"redirected over 5 times"),
    "server error without end": (ways.endless_chunks(500), r"answers 500"),
    "unchanged, unasked": (ways.status(304), r"answers 304"),
    "endless": (ways.endless, r"larger than 3 MB"),
    "endless chunks": (ways.endless_chunks(), r"larger than 3 MB"),
    "gzip bomb": (ways.bomb, r"larger than 3 MB"),
    "too large by its own word": (ways.large, r"larger than 3 MB"),
}  # fmt: skip

each_fault = pytest.mark.parametrize(("way", "words"), FAULTS.values(), ids=FAULTS)


def contents(folder: Path) -> dict[str, bytes]:
    """Read all that stands in a folder, save the store of earlier answers."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != "http.sqlite"
    }


def answers_stored(folder: Path) -> int:
    from requests_cache import CachedSession

    session = CachedSession(str(folder / "http.sqlite"), backend="sqlite", serializer="json")
    try:
        return len(session.cache.responses)
    finally:
        session.close()


@pytest.fixture
def failing(server, monkeypatch):
    """Let the server fail in a way; only one that never answers is left soon."""

    def fail(way):
        server.ways[RECORD] = way
        if way is ways.never:
            monkeypatch.setattr(http, "SILENCE_S", 0.1)

    return fail


@each_fault
def test_a_fault_is_answered_from_the_kept_copy_with_its_age_and_reason(
    failing, network, tmp_path, way, words
):
    keep(OLD, record_file(STATION, tmp_path), LONG_AGO)
    failing(way)

    fetched = fetch_record(STATION, network, tmp_path, now=NOW)

    assert fetched.path.read_bytes() == OLD
    assert fetched.fetched_at == LONG_AGO
    assert fetched.stale.startswith(f"30 days old: no newer record of station {STATION} came: ")
    assert re.search(words, fetched.stale)
    assert contents(tmp_path) == {f"records/{STATION}.dly": OLD}
    assert answers_stored(tmp_path) == 0


@pytest.mark.parametrize("fault", [name for name in FAULTS if name != "unchanged, unasked"])
def test_a_fault_is_answered_from_the_earlier_reply_where_the_kept_copy_is_gone(
    server, failing, network, tmp_path, capfd, fault
):
    way, words = FAULTS[fault]
    server.ways[RECORD] = ways.whole(OLD, etag='"1"')
    now = dt.datetime.now(dt.UTC)
    fetch_record(STATION, network, tmp_path, now=now).path.unlink()
    failing(way)

    fetched = fetch_record(STATION, network, tmp_path, now=now + dt.timedelta(hours=5))

    assert fetched.path.read_bytes() == OLD
    assert fetched.stale.startswith(f"5 hours old: no newer record of station {STATION} came: ")
    assert re.search(words, fetched.stale)
    assert abs(find_kept(fetched.path).fetched_at - now) < dt.timedelta(hours=1)
    assert answers_stored(tmp_path) == 1
    assert capfd.readouterr().err == ""  # requests-cache would warn with a traceback


@each_fault
def test_a_fault_without_a_kept_copy_is_a_clear_error(server, failing, network, tmp_path, way, words):
    failing(way)

    with pytest.raises(FrostgateError) as caught:
        fetch_record(STATION, network, tmp_path, now=NOW)

    assert caught.value.what.startswith(f"no record of station {STATION} is kept, and none came: ")
    assert re.search(words, caught.value.what)
    assert caught.value.file == f"{server.address}{RECORD}"
    assert caught.value.remedy.endswith(".")
    assert contents(tmp_path) == {}
    assert answers_stored(tmp_path) == 0


@pytest.mark.parametrize(
    "fault", ["not found", "cut", "web page", "redirect to another site", "no HTTP at all"]
)
def test_no_fault_and_no_log_tells_a_password_or_a_key(server, network, tmp_path, caplog, fault):
    caplog.set_level(logging.DEBUG)
    logging.getLogger("requests_cache.session").warning("as it logs %s", "http://h/f?key=s3cret")
    address = f"http://me:s3cret@{server.address[7:]}/s3cret0123456789?key=s3cret"
    server.ways["/s3cret0123456789?key=s3cret"] = FAULTS[fault][0]

    with pytest.raises(FrostgateError) as caught:
        fetch_forecast(address, network, tmp_path, now=NOW)

    assert len(server.asked) == 1
    assert "s3cret" not in str(caught.value) + str(caught.value.as_dict())
    assert "s3cret" not in caplog.text
    assert "127.0.0.1" in caplog.text


def test_a_server_that_is_not_there_is_said(network, tmp_path):
    with ways.refusing_address() as address, pytest.raises(FrostgateError, match="cannot be reached"):
        fetch_forecast(f"{address}/f", network, tmp_path, now=NOW)


def test_a_server_that_speaks_no_tls_is_not_trusted(server, network, tmp_path):
    with pytest.raises(FrostgateError, match="cannot be trusted"):
        fetch_forecast(server.address.replace("http", "https"), network, tmp_path, now=NOW)


def test_a_proxy_that_does_not_answer_is_said(network, tmp_path, monkeypatch):
    with ways.refusing_address() as address:
        monkeypatch.setenv("http_proxy", address)
        monkeypatch.setenv("no_proxy", "")

        with pytest.raises(FrostgateError, match="proxy"):
            fetch_forecast("http://example.invalid/f", network, tmp_path, now=NOW)


def test_a_redirect_never_leaves_encryption():
    answer = requests.Response()
    answer.url, answer.status_code = "https://example.invalid/f", 302
    answer.headers["Location"] = "http://example.invalid/f"
    answer.raw = io.BytesIO()

    with pytest.raises(http.Fault, match="from https to http"):
        http.CarefulSession().get_redirect_target(answer)


@pytest.fixture
def hosts(monkeypatch):
    """Let some names stand for some addresses, and none be looked up."""
    public, other, own = "93.184.215.14", "93.184.215.15", "127.0.0.1"
    known = {
        "example.org": public, "www.example.org": public, "example.net": other, "weather.lan": "192.168.1.5",
        "in.example.org": "10.0.0.7", "v6.example.org": "::1", "mapped.example.org": "::ffff:10.0.0.7",
        "mixed.example.org": f"{public} {own}", own: own, "2130706433": own,
    }  # fmt: skip

    def look_up(host, _):
        if host not in known:
            raise socket.gaierror
        return [(0, 0, 0, "", (address, 0)) for address in known[host].split()]

    monkeypatch.setattr(http.socket, "getaddrinfo", look_up)


PRIVATE = "an address of a private network"
ANOTHER = "to another site"


@pytest.mark.usefixtures("hosts")
@pytest.mark.parametrize(
    ("asked", "target", "fault"),
    [
        ("example.org", "/g", None),
        ("example.org", "http://example.org:8080/g", None),
        ("example.org", "https://EXAMPLE.org/g", None),
        ("example.org", "//www.example.org/g", None),
        ("www.example.org", "//example.org/g", None),
        ("example.org", "//allowed.net/g", None),
        ("127.0.0.1", "http://127.0.0.1:8080/g", None),
        ("example.org", "//example.net/g", ANOTHER),
        ("example.org", "//notexample.org/g", ANOTHER),
        ("example.org", "//example.org.evil.net/g", ANOTHER),
        ("example.org", "http://example.org@example.net/g", ANOTHER),
        ("example.org", r"http://127.0.0.1\@example.org/g", None),  # which is a name and no host, quoted
        ("example.org", "//2130706433/g", ANOTHER),
        ("example.org", "//169.254.169.254/latest", ANOTHER),
        ("weather.lan", "//127.0.0.1/g", ANOTHER),
        ("example.org", "//in.example.org/g", PRIVATE),
        ("example.org", "//v6.example.org/g", PRIVATE),
        ("example.org", "//mapped.example.org/g", PRIVATE),
        ("example.org", "//mixed.example.org/g", PRIVATE),
        ("example.org", "http://127.0.0.1/g", PRIVATE),
        ("example.org", "http://[::1]/g", ANOTHER),
    ],
)
def test_a_redirect_stays_on_its_site_and_out_of_private_networks(asked, target, fault):
    answer = requests.Response()
    answer.url, answer.status_code = f"http://{asked}/f", 302
    answer.headers["Location"] = target
    answer.raw = HTTPResponse(io.BytesIO(), preload_content=False)
    allowed = ("Allowed.net", "127.0.0.1") if fault in {None, PRIVATE} else ()
    session = http.CarefulSession(allowed)

    answer.request = request = requests.Request("GET", answer.url).prepare()

    with pytest.raises(http.Fault, match=fault) if fault else contextlib.nullcontext():
        next(session.resolve_redirects(answer, request, yield_requests=True))


def test_a_site_that_the_settings_allow_is_followed(server, network, tmp_path):
    server.ways |= {"/f": ways.redirect("http://localhost:1/g")}
    open_to_it = replace(network, redirects=("localhost",), wait_s=5.0)

    with pytest.raises(FrostgateError, match="cannot be reached"):  # there is nobody, but it was asked
        fetch_forecast(f"{server.address}/f", open_to_it, tmp_path, now=NOW)


@pytest.mark.parametrize("whole", [NEW, NEW.replace(b"\n", b"\r\n")])
def test_a_body_without_its_length_is_taken_where_it_ends_with_a_line(server, network, tmp_path, whole):
    server.ways[RECORD] = ways.unpromised(whole)

    assert fetch_record(STATION, network, tmp_path, now=NOW).path.read_bytes() == whole


def test_a_table_without_its_length_that_was_cut_in_its_last_number_is_not_taken(server, network, tmp_path):
    """The night of -12.5 would be one of -1 °C."""
    server.ways["/f"] = ways.unpromised(b"date,tmin_c\n2026-04-23,-1")

    with pytest.raises(FrostgateError, match="ends inside a line"):
        fetch_forecast(f"{server.address}/f", network, tmp_path, now=NOW)


def test_a_redirect_to_another_host_takes_no_password_along(server, network, tmp_path):
    with ways.running_server() as other:
        server.ways["/f"] = ways.redirect(f"{other.address}/g")
        other.ways["/g"] = ways.whole(forecast_json())

        fetch_forecast(f"http://gardener:invented@{server.address[7:]}/f", network, tmp_path, now=NOW)

    assert "Authorization" in server.asked[0][1]
    assert "Authorization" not in other.asked[0][1]


@pytest.mark.parametrize(
    "address",
    ["http://", "http://[", "http://a b/", "http://127.0.0.1:99999/f", "http://.a.invalid", "http://a..b/"],
)
def test_an_address_that_is_none_is_said(network, tmp_path, address):
    with pytest.raises(FrostgateError, match=r"no address that can be asked|cannot be reached"):
        fetch_forecast(address, network, tmp_path, now=NOW)


@pytest.mark.parametrize("document", ["ghcnd-stations.txt", "ghcnd-inventory.txt"])
@pytest.mark.parametrize("way", [ways.garbage, ways.web_page, ways.whole(NEW), ways.whole(b"Sorry\n")])
def test_a_list_that_is_none_does_not_replace_the_kept_one(server, network, tmp_path, document, way):
    whole = stations_txt() if document == "ghcnd-stations.txt" else inventory_txt()
    keep(whole, tmp_path / "lists" / document, NOW.replace(year=2025))
    server.ways[f"/daily/{document}"] = way

    fetched = fetch_list(document, network, tmp_path, now=NOW)

    of_what = "stations" if document == "ghcnd-stations.txt" else "what stations measure"
    assert f"no newer list of {of_what} came" in fetched.stale
    assert contents(tmp_path) == {f"lists/{document}": whole}


@pytest.mark.parametrize(
    "way",
    [
        ways.garbage,
        ways.web_page,
        ways.whole(b"{}"),
        ways.whole(b'{"daily": 5'),
        ways.whole(forecast_json()[:-30]),
        ways.whole(b"date,tmin_c\nsoon,cold\n"),
    ],
)
def test_a_forecast_that_is_none_does_not_replace_the_kept_one(server, network, tmp_path, way):
    url = f"{server.address}/forecast"
    server.ways["/forecast"] = ways.whole(forecast_json())
    kept = fetch_forecast(url, network, tmp_path, now=LONG_AGO)
    server.ways["/forecast"] = way

    fetched = fetch_forecast(url, network, tmp_path, now=NOW)

    assert fetched.path == kept.path
    assert fetched.path.read_bytes() == forecast_json()
    assert "what came is not a forecast" in fetched.stale or "a web page came" in fetched.stale


UNSTATED = json.dumps(json.loads(forecast_json()) | {"daily_units": {}}).encode()
UTC_DAYS = {"timezone": None, "daily_units": {"time": "unixtime", "temperature_2m_min": "C"}}
NO_ZONE = json.dumps(UTC_DAYS | {"daily": {"time": [1775952000], "temperature_2m_min": [1.5]}}).encode()


@pytest.mark.parametrize("less", [UNSTATED, NO_ZONE], ids=["no unit", "no time zone"])
def test_a_forecast_that_needs_the_growers_word_does_not_replace_one_that_does_not(
    server, network, tmp_path, less
):
    url = f"{server.address}/f"
    server.ways["/f"] = ways.in_turn(ways.whole(less), ways.whole(forecast_json()), ways.whole(less))

    fetched = [
        fetch_forecast(url, network, tmp_path, now=NOW + day * dt.timedelta(hours=4)) for day in range(3)
    ]

    assert [one.stale is None for one in fetched] == [True, True, False]
    assert "tells far less than the one that is kept" in fetched[-1].stale
    assert fetched[-1].path.read_bytes() == forecast_json()


def test_a_forecast_too_large_to_be_read_does_not_replace_the_kept_one(server, network, tmp_path):
    url = f"{server.address}/f"
    vast = forecast_json()[:-1] + b" " * 2_100_000 + b"}"
    server.ways["/f"] = ways.in_turn(ways.whole(forecast_json()), ways.whole(vast))
    fetch_forecast(url, network, tmp_path, now=NOW)

    fetched = fetch_forecast(url, network, tmp_path, now=NOW + dt.timedelta(hours=4))

    assert "too large for a forecast" in fetched.stale
    assert fetched.path.read_bytes() == forecast_json()


def test_a_forecast_of_nights_that_are_past_does_not_replace_the_kept_one(server, network, tmp_path):
    url = f"{server.address}/f"
    past = forecast_json().replace(b"2026-04-1", b"2026-03-1")
    server.ways["/f"] = ways.in_turn(ways.whole(forecast_json()), ways.whole(past))
    fetch_forecast(url, network, tmp_path, now=NOW)

    fetched = fetch_forecast(url, network, tmp_path, now=NOW + dt.timedelta(hours=4))

    assert "its nights are past, the last on 2026-03-13" in fetched.stale
    assert fetched.path.read_bytes() == forecast_json()


def test_a_record_whose_minima_are_missing_does_not_replace_the_kept_one(server, network, tmp_path):
    keep(OLD, record_file(STATION, tmp_path), LONG_AGO)
    server.ways[RECORD] = ways.whole(re.sub(rb"[ -][ 0-9-]{4}  0", b"-9999   ", NEW))

    fetched = fetch_record(STATION, network, tmp_path, now=NOW)

    assert "tells far less than the one that is kept" in fetched.stale or "is not a record" in fetched.stale
    assert fetched.path.read_bytes() == OLD


def test_a_kept_file_that_cannot_be_read_is_replaced(server, network, tmp_path):
    keep(b"half a rec", record_file(STATION, tmp_path), LONG_AGO)
    server.ways[RECORD] = ways.whole(NEW)

    assert fetch_record(STATION, network, tmp_path, now=NOW).path.read_bytes() == NEW


def test_a_record_far_shorter_than_the_kept_one_was_cut_on_its_way(server, network, tmp_path):
    """A cut at a line's end that the server does not own up to."""
    keep(OLD, record_file(STATION, tmp_path), LONG_AGO)
    server.ways[RECORD] = ways.whole(OLD[: 270 * 300])

    fetched = fetch_record(STATION, network, tmp_path, now=NOW)

    assert "tells far less than the one that is kept" in fetched.stale
    assert fetched.path.read_bytes() == OLD


@pytest.mark.parametrize(
    "fault", [ways.status(500), ways.status(503, Retry_After="0"), ways.hang_up, ways.promise(NEW, 10**6)]
)
def test_a_passing_fault_is_tried_again(server, network, tmp_path, fault):
    server.ways[RECORD] = ways.in_turn(fault, ways.whole(NEW))

    fetched = fetch_record(STATION, replace(network, retries=1), tmp_path, now=NOW)

    assert fetched.path.read_bytes() == NEW
    assert len(server.asked) == 2


def test_a_lasting_fault_is_not_tried_again(server, network, tmp_path):
    with pytest.raises(FrostgateError, match="404"):
        fetch_record(STATION, network, tmp_path, now=NOW)

    assert len(server.asked) == 1


def test_retries_are_as_many_as_the_settings_say(server, network, tmp_path):
    server.ways[RECORD] = ways.status(500)

    with pytest.raises(FrostgateError, match="500"):
        fetch_record(STATION, replace(network, retries=1), tmp_path, now=NOW)

    assert len(server.asked) == 2


@pytest.mark.parametrize("pause", ["120", "Fri, 01 Jan 2100 00:00:00 GMT"])
def test_a_server_that_asks_for_more_time_than_there_is_is_not_waited_for(
    server, network, clock, tmp_path, pause
):
    server.ways[RECORD] = ways.status(503, Retry_After=pause)

    with pytest.raises(FrostgateError, match="asks to wait"):
        fetch_record(STATION, replace(network, retries=5), tmp_path, now=NOW)

    assert clock.pauses == []
    assert len(server.asked) == 1


def test_as_long_as_a_server_asks_for_it_is_left_alone(server, network, clock, tmp_path):
    server.ways[RECORD] = ways.in_turn(ways.status(503, Retry_After="20"), ways.whole(NEW))

    assert fetch_record(STATION, replace(network, retries=1), tmp_path, now=NOW).path.read_bytes() == NEW
    assert clock.pauses == [20.0]


def test_retries_end_with_the_time(server, network, clock, tmp_path):
    """Pauses of 0, 1 and 2 s, and the next, of 4 s, would end beyond 6 s."""
    server.ways[RECORD] = ways.status(500)

    with pytest.raises(FrostgateError, match="500"):
        fetch_record(STATION, replace(network, retries=10, wait_s=6.0), tmp_path, now=NOW)

    assert clock.pauses == [0.0, 1.0, 2.0]
    assert len(server.asked) == 4


def test_a_redirect_loop_is_left_after_five(server, network, tmp_path):
    server.ways[RECORD] = ways.redirect(RECORD)

    with pytest.raises(FrostgateError, match="over 5 times"):
        fetch_record(STATION, network, tmp_path, now=NOW)

    assert len(server.asked) == 6


def test_a_server_that_drips_is_let_go_of(server, network, tmp_path):
    """Nothing of it goes on behind the one who waited."""
    server.ways[RECORD] = ways.drip(NEW)

    with pytest.raises(FrostgateError, match="not whole within"):
        fetch_record(STATION, network, tmp_path, now=NOW)

    for thread in threading.enumerate():
        if thread.name == "frostgate network":
            thread.join(60.0)
            assert not thread.is_alive()


def test_work_that_hangs_is_left_behind(clock):
    over = threading.Event()

    def work():
        clock.time_s += 10.0
        over.wait()

    with pytest.raises(http.Fault, match=r"not whole within 9 s"):
        http.Deadline(9.0).bound(work)

    over.set()


def test_what_the_work_raises_is_raised():
    with pytest.raises(ZeroDivisionError):
        http.Deadline(5.0).bound(lambda: 1 // 0)
