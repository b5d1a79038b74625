"""The mixing card: what it says, that it is safe to open, and that it can be read."""

from __future__ import annotations

import datetime as dt
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from frostgate.feeding.mix import MixedFeeding
from frostgate.model.feedings import Analysis, Bucket, Dose, Feeding, Mix, Product
from frostgate.model.garden import Garden, PotGroup, Site
from frostgate.show import mixes
from frostgate.show.mixes import card_html

DAY = dt.date(2026, 5, 16)  # a Saturday
VOID = {"meta", "br"}


def product(name: str, form="soluble") -> Product:
    return Product(name=name, analysis=Analysis(n=17, p2o5=5, k2o=9), form=form, density_g_ml=1.2,
                   density_from="default", rate=None)  # fmt: skip


def dose(name: str, spoons: str, grams: float = 30.0, form="soluble") -> Dose:
    return Dose(product=product(name, form), grams=grams, wanted_g=grams, spoons=spoons)


def group(name="old plums", count=10, **rest) -> PotGroup:
    usual = {"tree": "plum", "stage": "established", "pot_l": 34.0, "winters": "outdoors", "movable": False}
    return PotGroup(name=name, count=count, **(usual | rest))


def feeding(name="old plums", phase="wake-up", status="due") -> Feeding:
    return Feeding(date=DAY, group=name, phase=phase, kind="liquid", portions=(), number=1, status=status,
                   not_before_gate=True, reason="frost on 18 May")  # fmt: skip


def mix(*buckets: Bucket, pots=10, **rest) -> Mix:
    return Mix(buckets=buckets, ppm={}, per_pot_mg={}, pots=pots, **rest)


FULL = Bucket(
    volume_l=11.356, pots=4, doses=(dose("First feed", "4 tbsp", 61.2), dose("Epsom salt", "2 tbsp"))
)
PART = Bucket(
    volume_l=5.678, pots=2, doses=(dose("First feed", "2 tbsp", 30.6), dose("Epsom salt", "1 tbsp"))
)


class Page(HTMLParser):
    """The tags, the rows of the tables and the text of a page; fails on tags that do not close."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.rows: list[list[str]] = []
        self.words: list[tuple[tuple[str, ...], str]] = []
        self.feed(page)
        self.close()
        assert self.open == []
        self.rows = [[" ".join(cell.split()) for cell in row] for row in self.rows]

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in {"td", "th"}:
            self.rows[-1].append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if {"td", "th"} & set(self.open):
            self.rows[-1][-1] += data
        self.words.append((tuple(self.open), " ".join(data.split())))

    def within(self, tag: str) -> list[str]:
        return [words for tags, words in self.words if tag in tags and words]

    def boxes(self) -> int:
        return sum(attrs.get("class") == "box" for _, attrs in self.tags)


def html(*items: tuple[PotGroup, Feeding, Mix], units="us", title="Hollin Bank") -> str:
    groups = {of.name: of for of, _, _ in items}
    garden = Garden(file=Path("garden.toml"), sites=(Site(name=title),), groups=tuple(groups.values()),
                    units=units)  # fmt: skip
    return card_html(garden, [MixedFeeding(feeding=feeding, mix=mix) for _, feeding, mix in items])


def card(*items: tuple[PotGroup, Feeding, Mix], **rest) -> Page:
    return Page(html(*items, **rest))


def test_a_card_says_whose_and_when_and_what_goes_into_each_bucket():
    page = card((group(), feeding(), mix(FULL, FULL, PART, ec_ms_cm=1.34)))

    assert page.within("header") == ["Hollin Bank", "Saturday 16 May 2026"]
    assert page.within("h2")[0] == "old plums"
    assert page.rows == [
        ["wake-up 1 EC about 1.3 mS/cm", "2 × 3 gal for 4 pots each", "1.5 gal for 2 pots"],
        ["1. First feed", "4 tbsp 61.2 g (2.2 oz)", "2 tbsp 30.6 g (1.1 oz)"],
        ["2. Epsom salt", "2 tbsp 30 g (1.1 oz)", "1 tbsp 30 g (1.1 oz)"],
    ]
    assert page.boxes() == 3 + 1  # one for each bucket, one for the group


def test_metric_growers_read_litres_and_grams_alone():
    page = card((group(), feeding(), mix(FULL)), units="metric")

    assert page.rows[0][1] == "11.4 L for 4 pots"
    assert page.rows[1][1] == "4 tbsp 61.2 g"


def test_a_concentrate_is_also_given_in_millilitres():
    bucket = Bucket(volume_l=11.356, pots=4, doses=(dose("Kelp", "3 tbsp", 60.0, "liquid"),))

    assert card((group(), feeding(), mix(bucket))).rows[1] == ["Kelp", "3 tbsp 50 mL, 60 g (2.1 oz)"]


def test_fillings_for_one_large_pot_are_counted_together():
    """As `split_into_buckets` gives them: only the last filling of each pot counts it."""
    none, one = (Bucket(volume_l=10.0, pots=pots, doses=FULL.doses) for pots in (0, 1))

    page = card((group(count=2), feeding(), mix(none, one, none, one, pots=2)), units="metric")

    assert page.rows[0] == ["wake-up 1", "4 × 10 L for 2 pots"]


@pytest.mark.parametrize(
    ("stage", "count", "what", "shown"),
    [("established", 1, "each pot of 1", "1 pot"), ("in the ground", 2, "each tree of 2", "2 trees")],
)
def test_a_top_dressing_is_given_for_one_pot_or_tree(stage, count, what, shown):
    laid = mix(pots=count, per_pot=(dose("Granules", "2 tbsp", 28.0),))
    page = card((group(stage=stage, count=count), feeding(), laid))

    assert page.rows == [["wake-up 1", what], ["Granules", "2 tbsp 28 g (0.99 oz)"]]
    assert page.within("section")[:2] == ["old plums", shown]
    assert page.within("ol") == list(mixes.DRY_STEPS)


def test_all_that_a_group_gets_on_a_day_stands_together():
    laid = mix(per_pot=(dose("Granules", "2 tbsp"),))
    page = card(
        (group(), feeding(phase="top-dressing"), laid), (group("lemons"), feeding("lemons"), mix(PART)),
        (group(), feeding(), mix(FULL)),
    )  # fmt: skip

    assert [words for words in page.within("h2") if words in {"old plums", "lemons"}] == [
        "old plums",
        "lemons",
    ]
    assert [row[0] for row in page.rows if row[0].endswith(" 1")] == [
        "top-dressing 1",
        "wake-up 1",
        "wake-up 1",
    ]
    assert page.within("ol") == [*mixes.DRY_STEPS, *mixes.LIQUID_STEPS]


def test_a_bucket_without_one_of_the_products_says_none():
    less = Bucket(volume_l=4.0, pots=1, doses=PART.doses[:1])

    assert card((group(), feeding(), mix(FULL, less))).rows[2] == [
        "2. Epsom salt",
        "2 tbsp 30 g (1.1 oz)",
        "none",
    ]


def test_a_warning_stands_with_its_group_or_once_for_all():
    cautions = ("Wear gloves.", "Keep from children.")
    young = mix(FULL, warnings=("young roots", "weigh it"), cautions=cautions)
    page = card((group(), feeding(), young), (group("lemons"), feeding("lemons", status="held"),
                mix(PART, warnings=("weigh it",), cautions=cautions)))  # fmt: skip
    inside = [words for words in page.within("section") if words.startswith("Mind:")]
    minded = [words for words in page.within("main") if words.startswith("Mind:")]

    assert inside == ["Mind: young roots", "Mind: not yet: frost on 18 May"]
    assert minded == [*inside, "Mind: weigh it"]
    assert page.within("ul") == list(cautions)


HOSTILE = ["<b>", "</section><script>alert(1)</script>", "{{ 7 * 7 }}", '" onload="x', "a & b < c",
           "&lt;b&gt;", "<!-- ", "plums\nin pots", "李子 🍋"]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_becomes_markup(name):
    def shown(text: str) -> Page:
        doses = (dose(text, text),)
        laid = mix(Bucket(volume_l=5.0, pots=1, doses=doses), warnings=(text,), cautions=(text,))
        return card((group(text), feeding(text, phase=text, status="held"), laid), title=text)

    page, plain = shown(name), shown("plums")
    words, line = [words for _, words in page.words], " ".join(name.split())

    assert page.tags == plain.tags
    assert words.count(line) == [words for _, words in plain.words].count("plums") == 5
    assert f"Mind: {line}" in words


def test_a_page_runs_nothing_and_asks_for_nothing_from_elsewhere():
    text = html((group(), feeding(), mix(FULL)))
    page = Page(text)

    assert not {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "object", "a", "form"}
    assert not {
        name for _, attrs in page.tags for name in attrs if name in {"src", "href"} or name[:2] == "on"
    }
    assert not re.search(r"url\(|@import|https?:", text)
    policy = {attrs.get("http-equiv"): attrs.get("content") for tag, attrs in page.tags if tag == "meta"}
    assert policy["Content-Security-Policy"] == "default-src 'none'; style-src 'unsafe-inline'"


@pytest.mark.parametrize(("count", "font"), [(4, "11.5pt"), (5, "9.5pt")])
def test_more_than_four_mixes_are_set_smaller_so_that_they_stay_on_one_page(count, font):
    items = [(group(f"g{number}"), feeding(f"g{number}"), mix(PART)) for number in range(count)]
    text = html(*items)

    assert f"font-size: {font}; }}" in text
    assert re.search(r"@page { margin: \d+mm \d+mm; }", text)  # no size: A4 and US letter alike
    assert "break-inside: avoid" in text


def luminance(colour: str) -> float:
    """WCAG 2.1, relative luminance."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_black_on_white_has_the_contrast_that_the_standard_states():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)  # WCAG 2.1, contrast ratio: 1 to 21


@pytest.mark.parametrize(
    ("front", "back", "least"),
    [
        (mixes.INK, mixes.PAPER, 7.0),  # text, level AAA: WCAG 2.1, 1.4.6
        (mixes.INK, mixes.BAND, 7.0),
        (mixes.GREY, mixes.PAPER, 7.0),
        (mixes.MARK, mixes.PAPER, 3.0),  # a graphical object: WCAG 2.1, 1.4.11
    ],
)
def test_every_colour_stands_out(front, back, least):
    assert contrast(front, back) >= least


def test_there_are_no_colours_but_those_that_were_checked():
    text = html((group(), feeding(), mix(FULL, warnings=("weigh it",))))
    checked = {mixes.INK, mixes.GREY, mixes.PAPER, mixes.BAND, mixes.MARK}
    styles = re.findall(r"<style>(.*?)</style>", text, re.DOTALL)
    stated = set(re.findall(r"#[0-9A-Fa-f]{3,8}\b", text))

    assert stated == checked
    assert not re.search(r"\b(red|green|blue|orange|rgb|hsl)\b", styles[0])
    assert all(mixes.MARK not in rule or "border" in rule for rule in styles[0].split(";"))
