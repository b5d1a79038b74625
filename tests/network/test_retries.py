"""What is tried again, how often, and when it is given up."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest

from frostgate.errors import FrostgateError
from frostgate.sources.fetched import fetch_record
from tests.network import server as ways
from tests.network.invented import NOW, STATION, dly

RECORD = f"/daily/all/{STATION}.dly"
NEW = dly()


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

    with pytest.raises(FrostgateError, match="more than 5 times"):
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
