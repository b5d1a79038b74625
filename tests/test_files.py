"""Files that a grower names: read within a limit, and written whole or not at all."""

from __future__ import annotations

import contextlib
import datetime as dt
import gzip
import os
import threading
from pathlib import Path

import pytest

from frostgate.errors import InputError
from frostgate.files import LARGEST, decode, read_bytes, write_whole


@pytest.mark.parametrize("name", ["a.csv", "a.csv.gz", "a"])
def test_gzip_is_told_by_content_and_never_by_name(name, tmp_path):
    for content in (b"date\n", gzip.compress(b"date\n")):
        (tmp_path / name).write_bytes(content)
        assert read_bytes(tmp_path / name) == b"date\n"


def test_a_packed_file_of_several_parts_is_read_whole(tmp_path):
    (tmp_path / "a").write_bytes(gzip.compress(b"one\n") + gzip.compress(b"two\n"))
    assert read_bytes(tmp_path / "a") == b"one\ntwo\n"


BROKEN = {
    "cut short": gzip.compress(b"date\n" * 99)[:-9],
    "a bad checksum": gzip.compress(b"date\n")[:-8] + b"\0" * 8,
    "bad content": gzip.compress(b"date\n")[:10] + b"\xff" * 20,
    "only the mark": b"\x1f\x8b",
}


@pytest.mark.parametrize("content", BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_gzip_file_is_refused(content, tmp_path):
    (tmp_path / "a.gz").write_bytes(content)
    with pytest.raises(InputError, match="a gzip file that is broken or cut short"):
        read_bytes(tmp_path / "a.gz")


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_bytes(tmp_path / "absent.csv")


def test_a_directory_is_refused(tmp_path):
    with pytest.raises(InputError, match="a directory, not a file"):
        read_bytes(tmp_path)


def test_a_name_that_no_system_takes_is_refused(tmp_path):
    with pytest.raises(InputError, match="cannot be read: 'File name too long'"):
        read_bytes(tmp_path / ("a" * 5000))


@pytest.mark.parametrize("content", [b"", b" \n\t\r\n"])
def test_an_empty_file_is_refused(content, tmp_path):
    (tmp_path / "a").write_bytes(content)
    with pytest.raises(InputError, match="an empty file"):
        read_bytes(tmp_path / "a")


def test_a_null_byte_is_refused_with_its_line(tmp_path):
    (tmp_path / "a").write_bytes(b"one\ntwo\nthr\0ee\n")
    with pytest.raises(InputError, match="NUL byte") as caught:
        read_bytes(tmp_path / "a")
    assert caught.value.line == 3


def test_a_vast_file_is_refused_without_being_read(tmp_path, monkeypatch):
    with (tmp_path / "vast").open("wb") as vast:
        os.truncate(vast.fileno(), 2 * 2**30)  # sparse: it takes no room
    monkeypatch.setattr(Path, "open", lambda *_, **__: pytest.fail("a vast file was opened"))
    with pytest.raises(InputError, match=f"larger than {LARGEST // 2**20} MiB"):
        read_bytes(tmp_path / "vast")


def test_a_small_file_that_unpacks_to_a_vast_one_is_refused(tmp_path):
    (tmp_path / "bomb").write_bytes(gzip.compress(b" " * 3_000_000))
    with pytest.raises(InputError, match="larger than 1 MiB"):
        read_bytes(tmp_path / "bomb", largest=2**20)
    with pytest.raises(InputError, match=r"too large for a garden file\. Check that it is the file you mean"):
        read_bytes(tmp_path / "bomb", largest=2**20, kind="a garden file")


def test_a_file_of_just_the_largest_size_is_read(tmp_path):
    (tmp_path / "a").write_bytes(b"x" * 1000)
    assert len(read_bytes(tmp_path / "a", largest=1000)) == 1000
    with pytest.raises(InputError, match="too large"):
        read_bytes(tmp_path / "a", largest=999)


def test_a_byte_order_mark_is_not_part_of_the_text():
    assert decode(b"\xef\xbb\xbfdate", Path("a")) == "date"


def test_text_in_another_encoding_is_refused_with_its_line():
    with pytest.raises(InputError, match="not UTF-8 text") as caught:
        decode(b"one\ntwo\n\xb0C\n", Path("a"))
    assert caught.value.line == 3


@pytest.fixture
def place(tmp_path):
    file = tmp_path / "place.csv"
    file.write_bytes(b"as it was")
    return file


@pytest.mark.parametrize("content", ["as it is, at 3 °C\r\n", "as it is, at 3 °C\r\n".encode()])
def test_a_file_is_written_as_it_is_told(content, place):
    write_whole(str(place), content)
    assert place.read_bytes() == "as it is, at 3 °C\r\n".encode()


def test_a_new_file_may_be_read_by_all_and_one_that_is_replaced_keeps_its_mode(place):
    place.chmod(0o600)
    for file in (place, place.with_name("new")):
        write_whole(file, b"")
    assert [file.stat().st_mode & 0o777 for file in (place, place.with_name("new"))] == [0o600, 0o644]


def test_a_link_stays_a_link(place):
    link = place.with_name("link.csv")
    link.symlink_to(place)
    write_whole(link, b"as it is")
    assert link.is_symlink()
    assert place.read_bytes() == b"as it is"


def test_a_name_that_no_system_takes_is_refused_as_a_place(tmp_path):
    with pytest.raises(InputError, match="cannot be written: 'File name too long'"):
        write_whole(tmp_path / ("a" * 5000), b"")


def test_a_link_that_leads_to_itself_is_an_error_or_is_replaced_and_never_a_traceback(tmp_path):
    link = tmp_path / "link"
    link.symlink_to(link)
    with contextlib.suppress(InputError):
        write_whole(link, b"as it is")
        assert link.read_bytes() == b"as it is"


def test_a_pipe_is_written_into(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    came = []
    reader = threading.Thread(target=lambda: came.append((tmp_path / "pipe").read_bytes()))
    reader.start()
    write_whole(tmp_path / "pipe", b"as it is")
    reader.join()
    assert came == [b"as it is"]
    assert (tmp_path / "pipe").is_fifo()


def test_a_file_can_be_dated(place):
    write_whole(place, b"", dated=dt.datetime(2026, 4, 1, tzinfo=dt.UTC))
    assert place.stat().st_mtime == dt.datetime(2026, 4, 1, tzinfo=dt.UTC).timestamp()


class Killed(BaseException):
    """What no program catches."""


@pytest.mark.parametrize("step", [(os, "fsync"), (Path, "chmod"), (os, "utime"), (Path, "replace")])
@pytest.mark.parametrize(
    ("fault", "raised"), [(OSError(28, "No space left on device"), InputError), (Killed(), Killed)]
)
def test_a_writer_that_fails_leaves_the_file_whole_and_nothing_beside_it(
    fault, raised, step, place, monkeypatch
):
    def fail(*_):
        raise fault

    monkeypatch.setattr(*step, fail)
    with pytest.raises(raised):
        write_whole(place, b"half", dated=dt.datetime(2026, 4, 1))
    assert {file.name: file.read_bytes() for file in place.parent.iterdir()} == {place.name: b"as it was"}


def test_what_cannot_be_written_is_said_with_the_file_the_reason_and_the_remedy(tmp_path):
    with pytest.raises(InputError) as caught:
        write_whole(tmp_path / "no" / "a", b"", what="the log cannot be written", remedy="Make a folder.")
    assert str(caught.value) == (
        f"{tmp_path / 'no' / 'a'}: the log cannot be written: 'No such file or directory'. Make a folder."
    )
    with pytest.raises(InputError, match="cannot be written: 'Is a directory'"):
        write_whole(tmp_path, b"")
