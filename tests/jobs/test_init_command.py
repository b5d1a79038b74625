"""`frostgate init`: a new garden file by a few questions, or by options alone."""

from __future__ import annotations

import io
import sys

import click
import pytest

from frostgate.cli.init import ask
from frostgate.garden.file import read_garden

FEED = "First feed 17-5-9 soluble 4 tsp/gal"


@pytest.fixture(autouse=True)
def _in_a_new_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def answer(monkeypatch):
    """Return a function that lets the grower answer, one line for each question."""

    def _answer(*lines):
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))

    return _answer


def test_options_alone_write_a_garden(run, tmp_path, samples):
    done = run("init", "--no-questions", "--name", "Hollin Bank", "--units", "us", "--record",
               samples / "oskelmere.dly", "--forecast", samples / "forecast_clear.csv", "--risk", "5%",
               "--damage-temp", "30F", "--offset", "-2F", "--tree", "plum", "--count", "12",
               "--stage", "cutting", "--pot", "1 qt", "--per-pot", "1 cup", "--winters", "heated room",
               "--product", FEED)  # fmt: skip
    assert (done.status, done.err) == (0, "")
    assert "it was checked, and is sound" in done.out
    garden = read_garden(tmp_path / "garden.toml")
    assert (garden.home.name, garden.units, garden.home.policy.risk_tolerance) == ("Hollin Bank", "us", 0.05)
    assert garden.home.record.samefile(samples / "oskelmere.dly")
    assert garden.home.forecast.samefile(samples / "forecast_clear.csv")
    (group,), (product,) = garden.groups, garden.products
    assert (group.count, group.stage, group.winters) == (12, "cutting", "heated room")
    assert group.per_pot_l == pytest.approx(3.785411784 / 16)
    assert (product.analysis.grade, product.rate.text) == ("17-5-9", "4 tsp/gal")


def test_nothing_but_defaults_is_a_garden_too(run, tmp_path):
    assert run("init", "--no-questions").status == 0
    garden = read_garden(tmp_path / "garden.toml")
    assert (garden.home.name, garden.units, garden.products, garden.home.record) == (
        "My garden",
        "metric",
        (),
        None,
    )
    assert run("garden").status == 0


def test_what_no_option_answers_is_asked(run, answer, tmp_path):
    answer("Hollin Bank", "us", "", "", "", "", "-2F", "", "9", "", "9 gal", "3 qt", "sheltered", FEED)
    done = run("init")
    assert done.status == 0
    garden = read_garden(tmp_path / "garden.toml")
    assert (garden.home.name, garden.groups[0].count, garden.groups[0].winters) == (
        "Hollin Bank",
        9,
        "sheltered",
    )
    assert garden.home.policy.damage_temp_c == 0.0
    assert "A minimum that kills the flush [32F]" in done.out
    assert done.out.count(":") >= 14


def test_trees_in_the_ground_are_not_asked_about_pots(run, answer, tmp_path):
    answer("", "", "", "", "", "", "", "", "", "in the ground", "")
    assert run("init").status == 0
    assert read_garden(tmp_path / "garden.toml").groups[0].pot_l is None


def test_an_answer_that_cannot_be_read_is_asked_again(run, answer, tmp_path):
    answer(" x", "Hollin Bank", "imperial", "us", "no such file", "", "", "ten", "10%", "32", "32F", "much",
           "0F", "a\tb", "plum", "none", "0", "12", "old", "cutting", "7", "1 qt", "1 gal", "1 cup", "garage",
           "outdoors", "First feed", FEED)  # fmt: skip
    done = run("init")
    assert done.status == 0
    assert done.out.count("Error:") == 14
    assert read_garden(tmp_path / "garden.toml").groups[0].count == 12


@pytest.mark.parametrize(
    ("option", "value"),
    [("--name", ""), ("--units", "imperial"), ("--record", "nothing.dly"), ("--forecast", "."),
     ("--risk", "10"), ("--risk", "60%"), ("--damage-temp", "32"), ("--offset", "-90F"), ("--tree",
     "x" * 80), ("--count", "0"),
     ("--count", "1.5"), ("--count", "²"), ("--stage", "old"), ("--pot", "7"), ("--per-pot", "90 l"),
     ("--winters", "garage"), ("--product", "First feed"), ("--product", "Feed 90-90-90 soluble"),
     ("--product", "Feed 17-5-9 soluble much"), ("--product", "Feed 6-4-5 granular 4 tsp/gal")],
)  # fmt: skip
def test_an_option_that_cannot_be_read_is_refused_and_nothing_is_written(run, tmp_path, option, value):
    done = run("init", "--no-questions", option, value)
    assert done.status == 2
    assert done.err.startswith(f"Error: {option}: ")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_is_never_overwritten(run, tmp_path):
    (tmp_path / "garden.toml").write_text("mine")
    done = run("init", "--no-questions")
    assert done.status == 2
    assert "rename it first" in done.err
    assert (tmp_path / "garden.toml").read_text() == "mine"
    (tmp_path / "broken.toml").symlink_to(tmp_path / "nowhere")
    assert run("init", "--no-questions", "--file", "broken.toml").status == 2
    assert run("init", "--file", "no such folder/garden.toml").status == 2


def test_files_are_named_from_the_garden_files_own_folder(run, tmp_path, samples):
    (tmp_path / "deep").mkdir()
    (tmp_path / "station.dly").write_bytes((samples / "oskelmere.dly").read_bytes())
    assert run("init", "--no-questions", "--file", "deep/g.toml", "--record", "station.dly").status == 0
    assert 'record = "../station.dly"' in (tmp_path / "deep" / "g.toml").read_text()


def test_a_record_on_another_drive_is_named_whole(run, tmp_path, monkeypatch):
    (tmp_path / "station.dly").touch()

    def on_another_drive(*_):
        raise ValueError

    monkeypatch.setattr("frostgate.cli.init.os.path.relpath", on_another_drive)
    assert run("init", "--no-questions", "--record", "station.dly").status == 0
    assert f'record = "{tmp_path.as_posix()}/station.dly"' in (tmp_path / "garden.toml").read_text()


def test_a_grower_who_does_not_answer_leaves_nothing_behind(run, answer, tmp_path):
    answer("Hollin Bank", "us")
    done = run("init")
    assert done.status == 2
    assert "State --record, or take the defaults by --no-questions." in done.err
    assert list(tmp_path.iterdir()) == []


def test_a_grower_who_breaks_off_at_the_keyboard_just_stops(monkeypatch):
    class Keyboard(io.StringIO):
        def isatty(self):
            return True

    monkeypatch.setattr(sys, "stdin", Keyboard())
    with pytest.raises(click.Abort):
        ask("name", None, {"units": "us"}, is_asked=True)


def test_a_file_that_would_not_be_sound_is_not_written(run, tmp_path, monkeypatch):
    monkeypatch.setattr("frostgate.cli.init.fill_template", lambda *_: "no garden")
    assert run("init", "--no-questions").status == 2
    assert list(tmp_path.iterdir()) == []
