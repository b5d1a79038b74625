"""The bar of progress."""

from __future__ import annotations

import io
import sys

import pytest

from frostgate.cli.options import progress_bar


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_terminal_is_shown_how_far_it_is(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)

    with progress_bar("Replaying springs") as advance:
        for done in (0, 50, 200):
            advance(done, 200)

    written = terminal.getvalue()
    assert "Replaying springs" in written
    assert "100%" in written


@pytest.mark.parametrize("stream", [io.StringIO(), None], ids=["a file", "no stream"])
def test_where_nobody_watches_nothing_is_written(monkeypatch, stream):
    monkeypatch.setattr(sys, "stderr", stream)

    with progress_bar("Replaying springs") as advance:
        assert advance is None

    assert stream is None or stream.getvalue() == ""


def test_an_error_below_the_bar_passes_through(monkeypatch):
    monkeypatch.setattr(sys, "stderr", Terminal())

    with pytest.raises(ZeroDivisionError), progress_bar("Replaying springs") as advance:
        advance(1, 1 // 0)
