"""A garden file becomes the garden it describes, and is kept until it changes."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from frostgate.errors import GardenFileError
from frostgate.garden.file import LARGEST, read_garden
from frostgate.model.feedings import NoFeeding, Phase, Portion, SeasonRules
from frostgate.model.garden import Garden, PotGroup, Scoop, Site
from tests.garden_text import FULL

GALLON_L, TEASPOON_ML, FOOT_M, POUND_G = 3.785411784, 4.92892159375, 0.3048, 453.59237  # NIST Handbook 44
SMALLEST = 'site = { name = "Hollin Bank" }\n'


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(FULL, encoding="utf-8")
    return path


def refused(path, kept=None):
    with pytest.raises(GardenFileError) as caught:
        read_garden(path, kept)
    (mistake,) = caught.value.mistakes
    assert mistake.file == str(path)
    return mistake


def test_a_site_and_its_policy_are_read(file):
    home, second = read_garden(file).sites
    assert (home.name, home.station, home.hemisphere, home.time_zone, home.unit) == (
        "Hollin Bank", "XX000000017", "north", "America/New_York", "F")  # fmt: skip
    assert (home.record, home.forecast) == (file.parent / "oskelmere.dly", file.parent / "forecast.csv")
    assert home.elevation_m == pytest.approx(1020 * FOOT_M)
    assert home.policy.damage_temp_c == pytest.approx(-2 / 1.8)
    assert home.policy.offset_c == pytest.approx(-1.0)
    assert home.policy.offset_sd_c == pytest.approx(0.5)
    assert home.policy.forecast_offset_c == pytest.approx(-2.0)
    assert (home.policy.risk_tolerance, home.policy.first_exposed_days, home.policy.max_age_hours) == (
        0.05,
        2,
        36,
    )
    assert second == Site(
        name="Far Field", station="XX000000017", forecast_url="https://example.org/forecast.json"
    )


def test_groups_and_products_are_read(file):
    garden = read_garden(file)
    assert garden.groups == (
        PotGroup(name="old plums", tree="plum", count=9, stage="established", winters="sheltered",
                 movable=True, pot_l=9 * GALLON_L, per_pot_l=pytest.approx(0.75 * GALLON_L),
                 height_m=6 * FOOT_M),
        PotGroup(name="by the wall", tree="quince", count=3, stage="in the ground", winters="outdoors",
                 movable=False, height_m=2.0),
    )  # fmt: skip
    feed, granules = garden.products
    assert (feed.name, feed.form, feed.analysis.grade, feed.analysis.mg) == (
        "First feed",
        "soluble",
        "17-5-9",
        2.0,
    )
    assert (feed.density_g_ml, feed.density_from) == (pytest.approx(5.1 / TEASPOON_ML), "measured")
    assert feed.rate.grams == pytest.approx(4 * 5.1 / GALLON_L)
    assert feed.most.grams == pytest.approx(7 * 5.1 / GALLON_L)
    assert (feed.organic, feed.pack_g, feed.price) == (False, pytest.approx(4 * POUND_G), 17.2)
    assert feed.ec_ms_cm_per_g_l == pytest.approx(0.9 / (100 / 170))  # 100 ppm of 17 % nitrogen is 0.588 g/L
    assert (granules.rate.per, granules.density_from, granules.most) == ("pot", "default", None)


def test_a_rate_by_height_may_have_a_largest_rate_for_a_tree(file):
    """Half a pound a foot, at most five (Georgia Magazine 2019): the limit must not be lost."""
    meal = 'name = "Meal"\nanalysis = "6-5-7"\nform = "granular"\nrate = "0.3 lb/ft"\nmost = "4 lb/tree"'
    with file.open("a", encoding="utf-8") as added:
        added.write(f"\n[[product]]\n{meal}\n")

    assert read_garden(file).product("Meal").most.grams == pytest.approx(4 * POUND_G)


def test_tools_rules_and_local_rules_are_read(file):
    garden = read_garden(file)
    assert (garden.units, garden.currency, garden.file) == ("us", "USD", file)
    assert garden.vessel_l == pytest.approx(3.5 * GALLON_L)
    assert garden.scoops == (
        Scoop(name="2.5 tsp", volume_ml=pytest.approx(2.5 * TEASPOON_ML)),
        Scoop(name="1/2 tsp", volume_ml=pytest.approx(0.5 * TEASPOON_ML)),
    )
    assert garden.no_feeding == (NoFeeding(name="local rule", first=(11, 5), last=(2, 29)),)
    assert garden.rules == SeasonRules(stop_weeks=6, least_days=9, n_per_pot_g=18, ec_limit_ms_cm=2.5,
                                       water_ec_ms_cm=0.4, autumn_risk=0.2)  # fmt: skip


def test_phases_are_read(file):
    assert read_garden(file).phases == (
        Phase(name="wake-up", kind="liquid", anchor="gate", after_days=28, every_days=12, feedings=3,
              portions=(
                  Portion(product="First feed", strength=0.75), Portion(product="First feed", n_ppm=150)),
              groups=("old plums",)),
        Phase(name="dressing", kind="top-dressing", anchor="bud break", after_days=0, every_days=365,
              feedings=1, portions=(Portion(product="Pot granules", strength=0.5),)),
    )  # fmt: skip


def test_the_smallest_garden_file_is_a_name(tmp_path):
    file = tmp_path / "g.toml"
    file.write_text(SMALLEST)
    assert read_garden(file) == Garden(file=file, sites=(Site(name="Hollin Bank"),))


@pytest.mark.parametrize(
    "content", [b"\xef\xbb\xbf" + SMALLEST.encode(), SMALLEST.replace("\n", "\r\n").encode()]
)
def test_a_byte_order_mark_and_windows_lines_are_read(content, tmp_path):
    file = tmp_path / "g.toml"
    file.write_bytes(content)
    assert read_garden(file).home.name == "Hollin Bank"


def test_the_invented_garden_is_sound_and_says_so(samples):
    garden = read_garden(samples / "garden.toml")
    assert (samples / "garden.toml").read_text(encoding="utf-8").startswith("# INVENTED")
    assert garden.home.record.is_file()
    assert garden.home.forecast.is_file()
    assert garden.home.policy.offset_c == pytest.approx(-2 / 1.8)
    assert [(group.stage, group.count) for group in garden.groups] == [
        ("established", 9), ("newly potted", 6), ("cutting", 16), ("in the ground", 3)]  # fmt: skip
    assert {product.form for product in garden.products} == {"soluble", "granular"}
    assert garden.phases == ()


@pytest.mark.parametrize(
    ("content", "line", "what"),
    [
        (b"", None, "an empty file"),
        (b" \n\t\n", None, "an empty file"),
        (b"a = 1\nb = \0\n", 2, "not a text file (it holds a NUL byte)"),
        (b"a = 1\n\nb = '\xff'\n", 3, "not UTF-8 text"),
        (b"\xff\xfea\0", 1, "not a text file (it holds a NUL byte)"),
        (b"# " + b"x" * LARGEST, None, "larger than 128 KiB, too large for a garden file"),
    ],
    ids=["empty", "blank", "NUL", "Latin-1", "UTF-16", "huge"],
)
def test_what_is_no_garden_file_is_refused(content, line, what, tmp_path):
    file = tmp_path / "g.toml"
    file.write_bytes(content)
    mistake = refused(file)
    assert (mistake.what, mistake.line) == (what, line)
    assert mistake.remedy


def test_a_file_of_gigabytes_is_refused_and_not_swallowed(tmp_path):
    file = tmp_path / "g.toml"
    with file.open("wb") as stream:
        os.truncate(stream.fileno(), 2 * 2**30)
    assert "larger" in refused(file).what


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    assert "frostgate init" in refused(tmp_path / "nothing.toml").remedy
    assert refused(tmp_path).what == "a directory, not a file"


@pytest.mark.parametrize(
    "fault", [OSError(5, "Input/output error"), PermissionError(13, "Permission denied")]
)
def test_a_file_that_cannot_be_read_is_refused(fault, file, monkeypatch):
    def fail(*_args, **_options):
        raise fault

    monkeypatch.setattr(Path, "open", fail)
    assert refused(file).value == fault.strerror


def test_a_sound_file_is_kept_and_read_back_as_the_same_garden(file, tmp_path):
    kept = tmp_path / "kept" / "here"
    first = read_garden(file, kept)
    assert [path.suffix for path in kept.iterdir()] == [".json"]
    assert read_garden(file, kept) == first == read_garden(file)


def test_a_kept_garden_is_read_without_the_libraries_that_check_it(file, tmp_path):
    probe = (
        "import sys; from pathlib import Path; from frostgate.garden.file import read_garden; "
        "read_garden(Path(sys.argv[1]), Path(sys.argv[2])); "
        "print(sorted({'pydantic', 'tomllib', 'scipy', 'pandas'} & set(sys.modules)))"
    )
    ran = [
        subprocess.run([sys.executable, "-c", probe, file, tmp_path / "kept"], capture_output=True, text=True,
                       check=True, cwd=Path(__file__).parents[1]).stdout.strip()
        for _ in range(2)
    ]  # fmt: skip
    assert ran == ["['pydantic', 'tomllib']", "[]"]


def test_a_changed_file_is_checked_again(file, tmp_path):
    read_garden(file, tmp_path / "kept")
    file.write_text(FULL.replace("count = 9", "count = 11"))
    assert read_garden(file, tmp_path / "kept").groups[0].count == 11
    file.write_text(FULL.replace("count = 9", "count = 0"))
    assert "1 or more" in refused(file, tmp_path / "kept").what
    assert len(list((tmp_path / "kept").iterdir())) == 2


def test_a_copy_in_another_folder_names_its_own_files(file, tmp_path):
    read_garden(file, tmp_path / "kept")
    other = tmp_path / "other" / "garden.toml"
    other.parent.mkdir()
    other.write_text(FULL)
    assert read_garden(other, tmp_path / "kept").home.record == other.parent / "oskelmere.dly"


@pytest.mark.parametrize("record", ["../oskelmere.dly", "/records/oskelmere.dly", "oskelmere.dly"])
def test_a_kept_file_name_means_the_same_file(record, file, tmp_path):
    file.write_text(FULL.replace("oskelmere.dly", record))
    first = read_garden(file, tmp_path / "kept")
    assert read_garden(file, tmp_path / "kept").home.record == first.home.record == file.parent / record


def test_what_is_at_its_default_is_not_kept(file):
    """Else the default of another version would outlive it."""
    file.write_text('site = { name = "Hollin Bank" }')
    read_garden(file, file.parent / "kept")
    (place,) = (file.parent / "kept").iterdir()
    assert not re.search("units|stop_weeks|risk_tolerance|archive", place.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "garbage",
    [b"", b"{", b"null", b"3", b"[]", b"{}", b'{"noun": "Shed"}', b'{"noun": "Garden"}', b"\xff",
     b'{"noun": "Garden", "sites": [{"noun": "Site"}]}', b'{"noun": "Garden", "sites": [], "shed": 1}',
     b'{"noun": "Site", "name": "x"}', b"[" * 100_000,
     b'{"noun": "Garden", "sites": [], "home": {"noun": "Policy", "risk_tolerance": 1%s}}' % (b"0" * 400)],
)  # fmt: skip
def test_what_cannot_be_read_back_is_made_anew(garbage, file, tmp_path):
    first = read_garden(file, tmp_path / "kept")
    (place,) = (tmp_path / "kept").iterdir()
    place.write_bytes(garbage)
    assert read_garden(file, tmp_path / "kept") == first
    assert "Hollin Bank" in place.read_text(encoding="utf-8")


def test_another_form_is_made_anew(file, tmp_path, monkeypatch):
    read_garden(file, tmp_path / "kept")
    monkeypatch.setattr("frostgate.garden.file.FORM", 99)
    read_garden(file, tmp_path / "kept")
    assert len(list((tmp_path / "kept").iterdir())) == 2


def test_a_place_that_cannot_be_written_costs_no_answer(file, tmp_path):
    (tmp_path / "in the way").write_text("")
    assert read_garden(file, tmp_path / "in the way") == read_garden(file)
    read_garden(file, tmp_path / "kept")
    (place,) = (tmp_path / "kept").iterdir()
    place.unlink()
    (place / "full").mkdir(parents=True)
    assert read_garden(file, tmp_path / "kept") == read_garden(file)
    assert list((tmp_path / "kept").iterdir()) == [place]


def test_mornings_at_once_leave_one_whole_file(file, tmp_path):
    with ThreadPoolExecutor(8) as mornings:
        gardens = list(mornings.map(lambda _: read_garden(file, tmp_path / "kept"), range(24)))
    assert gardens == [read_garden(file)] * 24
    assert len(list((tmp_path / "kept").iterdir())) == 1
