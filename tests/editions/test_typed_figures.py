"""Figures typed by hand: read in each language's notation, held against the readings and the other editions."""

import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest
from babel.dates import format_date
from babel.numbers import format_decimal
from babel.units import format_unit
from builders import SMALL, write
from hypothesis import given
from hypothesis import strategies as st

from sitegen import stock
from sitegen.editions.following.parity import compare_figures
from sitegen.editions.following.parts import Part
from sitegen.editions.typed.figure_reader import DATE, GRADE, Typed, read_figures, running_text
from sitegen.editions.typed.notation import notation_of
from sitegen.figures.forms import numbers
from sitegen.figures.forms.language import open_language
from sitegen.pipeline import build
from sitegen.place import Place
from sitegen.problems import Problem, Problems

REPOSITORY = Path(__file__).resolve().parents[2]
CATALOGUES = stock.content_folder() / "catalogues"
LANGUAGES = ("en", "de", "nl", "fr", "es", "it", "da", "sv", "nb", "pl", "de-CH", "fr-CH", "en-GB")


def read(tag: str, text: str) -> tuple[Typed, ...]:
    return read_figures(Part("text.1", text, Place("x.md", 3, 1)), notation_of(tag))


def only(tag: str, text: str) -> tuple[tuple[str, ...], str]:
    (figure,) = read(tag, text)
    return tuple(map(str, figure.values)), figure.unit


# From memory: handbooks of each language and ISO 80000-1. The signs of the first rows are also CLDR's (Babel 2.18).
NOTATIONS = [
    ("de", "1.234,5 g", ("1234.5",), "g"), ("nl", "1.234,5 g", ("1234.5",), "g"), ("en", "1,234.5 g", ("1234.5",), "g"),
    ("fr", "1\u202f234,5 g", ("1234.5",), "g"), ("fr", "1\u00a0234,5 g", ("1234.5",), "g"), ("fr", "1 234,5 g", ("1234.5",), "g"),
    ("pl", "1\u00a0234,5 g", ("1234.5",), "g"), ("de-CH", "1’234.5 g", ("1234.5",), "g"), ("de-CH", "1'234.5 g", ("1234.5",), "g"),
    ("de", "1.234 g", ("1234",), "g"), ("en", "1.234 g", ("1.234",), "g"), ("de", "412,0 g", ("412.0",), "g"),
    ("de", "1\u2009234 g", ("1234",), "g"),  # thin space, ISO 80000-1
    ("de", "1.5 kg", ("1.5",), "kg"), ("en", "1,5 kg", ("1.5",), "kg"),  # the other language's sign, unmistakably
    ("de", "½ l", ("0.5",), "l"), ("de", "1½ l", ("1.5",), "l"), ("en", "2 ½ h", ("2.5",), "h"), ("en", "1/2 l", ("0.5",), "l"),
    ("en", "30 °C", ("30",), "°C"), ("en", "30°C", ("30",), "°C"), ("de", "30-Grad-Wäsche", ("30",), "°"), ("de", "30 Grad", ("30",), "°"),
    ("de", "\u22125 °C", ("-5",), "°C"), ("en", "-5 °C", ("-5",), "°C"), ("en", "-5 to -3 °C", ("-5", "-3"), "°C"),
    ("de", "25–30 s", ("25", "30"), "s"), ("de", "25 bis 30 s", ("25", "30"), "s"), ("en", "25 to 30 s", ("25", "30"), "s"),
    ("nl", "25 tot 30 s", ("25", "30"), "s"), ("fr", "25 à 30 s", ("25", "30"), "s"), ("en", "25-30 s", ("25", "30"), "s"),
    ("en", "grade 4", ("4",), GRADE), ("de", "Grad 4", ("4",), GRADE), ("nl", "graad 4", ("4",), GRADE), ("fr", "note 4", ("4",), GRADE),
    ("de", "Grade 3 und 4", ("3", "4"), GRADE), ("de", "26 %", ("26",), "%"), ("en", "26%", ("26",), "%"), ("de", "26 Prozent", ("26",), "%"),
    ("en", "26 per cent", ("26",), "%"), ("fr", "26\u202f%", ("26",), "%"), ("fr", "26 pour cent", ("26",), "%"), ("nl", "26 procent", ("26",), "%"),
    ("de", "nach 20 Minuten", ("20",), "min"), ("de", "mit 5 Litern", ("5",), "l"), ("en", "a 15-minute walk", ("15",), "min"),
    ("en", "3 h 20 min", ("200",), "min"), ("de", "3 Stunden und 20 Minuten", ("200",), "min"), ("fr", "1 h 30", ("90",), "min"),
    ("de", "149,90 €", ("149.90",), "EUR"), ("en", "€149.90", ("149.90",), "EUR"), ("en", "USD 20", ("20",), "USD"),
    ("de", "10.000 mm Wassersäule", ("10000",), "mmH2O"), ("en", "29.5 mm/s", ("29.5",), "mm/s"), ("en", "160 g/m²", ("160",), "g/m²"),
]  # fmt: skip


@pytest.mark.parametrize(("tag", "text", "values", "unit"), NOTATIONS)
def test_a_figure_is_read_in_its_language_s_notation(tag: str, text: str, values: tuple[str, ...], unit: str) -> None:
    """Each notation of the table comes out as its value, with the digits written, and its unit."""
    assert only(tag, text) == (values, unit)


# From memory: how dates are written by hand. The long forms are checked against CLDR below.
DATES = [
    ("en", "2026-10-04", (2026, 10, 4)), ("de", "4. Oktober 2026", (2026, 10, 4)), ("de", "am 4. Oktober", (0, 10, 4)),
    ("en", "October 4, 2026", (2026, 10, 4)), ("en", "4 October 2026", (2026, 10, 4)), ("en", "the 4th of October", (0, 10, 4)),
    ("en-GB", "4 October 2026", (2026, 10, 4)), ("fr", "4 octobre 2026", (2026, 10, 4)), ("fr", "le 1er octobre", (0, 10, 1)),
    ("nl", "4 oktober 2026", (2026, 10, 4)), ("de", "4.10.2026", (2026, 10, 4)), ("nl", "4-10-2026", (2026, 10, 4)),
    ("fr", "04/10/2026", (2026, 10, 4)), ("en-GB", "04/10/2026", (2026, 10, 4)), ("en-US", "10/04/2026", (2026, 10, 4)),
    ("de", "im Oktober 2026", (2026, 10, 0)), ("en", "in October 2026", (2026, 10, 0)), ("fr", "en octobre 2026", (2026, 10, 0)),
    ("pl", "4 października 2026", (2026, 10, 4)),
]  # fmt: skip


@pytest.mark.parametrize(("tag", "text", "day"), DATES)
def test_a_date_is_read_in_its_language_s_notation(tag: str, text: str, day: tuple[int, int, int]) -> None:
    """Each form of a date comes out as year, month and day, 0 for what isn't said."""
    (figure,) = read(tag, text)
    assert (figure.unit, figure.day) == (DATE, day)


@pytest.mark.parametrize("tag", ["en", "de", "nl", "fr", "es", "it", "da", "sv", "nb", "pl"])
def test_cldr_s_own_long_dates_are_read(tag: str) -> None:
    """What Babel writes from CLDR's long pattern is read back as the same day, in every month."""
    for month in range(1, 13):
        day = dt.date(2026, month, 14)
        (figure,) = read(tag, f"({format_date(day, 'long', locale=tag)})")
        assert figure.day == (2026, month, 14)


@pytest.mark.parametrize("tag", ["en", "de", "nl", "fr", "es", "it", "da", "sv", "nb", "pl"])
@pytest.mark.parametrize(
    ("cldr", "unit"),
    [("mass-gram", "g"), ("duration-minute", "min"), ("length-kilometer", "km"), ("volume-liter", "l")],
)
def test_cldr_s_own_unit_names_are_read(tag: str, cldr: str, unit: str) -> None:
    """What Babel writes from CLDR's long unit pattern is read back, for each plural category."""
    for amount in (1, 2, 5, 22, Decimal("1.5"), 1234):
        text = format_unit(amount, cldr, "long", locale=tag)
        assert only(tag, text) == ((str(amount),), unit), text


@pytest.mark.parametrize("tag", ["en", "de", "nl", "fr", "de_CH", "pl", "sv"])
def test_cldr_s_own_numbers_are_read(tag: str) -> None:
    """What Babel writes from CLDR's decimal pattern is read back."""
    for amount in (Decimal("0.5"), Decimal("1234.5"), Decimal("1234567.891")):
        assert only(tag.replace("_", "-"), format_decimal(amount, locale=tag, decimal_quantization=False) + " g") == (
            (str(amount),),
            "g",
        )


@given(
    tag=st.sampled_from(LANGUAGES), value=st.decimals(-(10**9), 10**9, places=3, allow_nan=False),
    places=st.integers(0, 3), unit=st.sampled_from(["g", "mm/s", "°C", "%", "min"]),
)  # fmt: skip
def test_what_the_pages_write_is_read_back(tag: str, value: Decimal, places: int, unit: str) -> None:
    """A quantity in the form that pages print is read as the same value, with the same digits."""
    rounded = numbers.round_to(value, places)
    written = numbers.quantity(open_language(tag, CATALOGUES), rounded, unit)
    (figure,) = read(tag, f"x {written}, y")
    assert figure.values == (rounded,)
    assert figure.values[0].as_tuple().exponent == rounded.as_tuple().exponent
    assert figure.unit == unit


@given(st.text(max_size=200), st.sampled_from(["en", "de", "fr"]))
def test_no_text_is_too_odd(text: str, tag: str) -> None:
    """Reading never raises, and what is blanked keeps its length, so that places stay right."""
    assert len(running_text(text)) == len(text)
    for figure in read(tag, text):
        assert 0 <= figure.start < figure.end <= len(text)


@pytest.mark.parametrize(
    "text",
    ["`412 g`", "[x](12 g)", "[x](photos/412-g.jpg)", "{mass}", "    412 g", "```\n412 g\n```", "https://x.example/412 ", "the 1990s", "412",
     "version 2.0.1", "14.30 Uhr", "4 Auguſt"],
)  # fmt: skip
def test_what_is_no_figure_is_passed_over(text: str) -> None:
    """Code, addresses, values, bare numbers and times of day are no figures."""
    assert read("de", text) == ()


def test_a_figure_knows_its_place() -> None:
    """Line and column count from 1 in the file, also after a line break within the paragraph."""
    first, second = read("en", "It weighs 412 g,\nat 30 °C.")
    assert (first.place.line, first.place.column, first.place.width) == (3, 11, 5)
    assert (second.place.line, second.place.column) == (4, 4)


def parity(de: str, en: str) -> list[tuple[str, str]]:
    found = compare_figures(read("de", de), read("en", en), de, en, ("de", "en"))
    return [(d.there.written if d.there else "", d.here.written if d.here else "") for d in found]


@pytest.mark.parametrize(
    ("de", "en"),
    [
        ("1,5 kg", "1500 g"), ("15 °C", "59 °F"), ("25–30 s", "from 25 s to 30 s"), ("30 Grad", "30 °C"), ("1,50 kg", "1.5 kg"),
        ("am 4. Oktober", "on October 4, 2026"), ("2026-10-04", "4 October 2026"), ("12 Minuten", "twelve minutes"), ("zwölf Minuten", "12 minutes"),
        ("150 min", "2 h 30 min"), ("erst 5 g, dann 7 g", "7 g after 5 g"), ("5 km bei 3 °C", "at 3 °C for 5 km"), ("1 m", "3.3 ft"),
        ("412 g{meant}", "421 g"), ("412 g{meant}", "nothing"), ("", "5 g{meant}"),
    ],
)  # fmt: skip
def test_figures_that_say_the_same_agree(de: str, en: str) -> None:
    """Equal values, conversions, words for small whole numbers, another order, and what is meant are no differences."""
    assert parity(de, en) == []


@pytest.mark.parametrize(
    ("de", "en", "expected"),
    [
        ("30 °C", "40 °C", [("30 °C", "40 °C")]), ("1,5 kg", "1600 g", [("1,5 kg", "1600 g")]), ("412 g", "heavy", [("412 g", "")]),
        ("schwer", "412 g", [("", "412 g")]), ("4. Oktober", "5 October", [("4. Oktober", "5 October")]),
        ("25–30 s", "25–35 s", [("25–30 s", "25–35 s")]), ("5 g und 7 g", "5 g", [("7 g", "")]),
        ("Grad 4", "grade 3", [("Grad 4", "grade 3")]), ("20 Minuten", "thirty minutes", [("20 Minuten", "")]),
    ],
)  # fmt: skip
def test_figures_that_differ_are_told(de: str, en: str, expected: list[tuple[str, str]]) -> None:
    """Another value of one kind is a difference; a value without a counterpart is missing."""
    assert parity(de, en) == expected


def checked(folder: Path, **texts: str) -> list[Problem]:
    """The cautions for the small publication with other texts in its one review."""
    heads = {tag: SMALL[f"reviews/tarn/{tag}.md"].partition("## ")[0] for tag in texts}
    files: dict[str, str | bytes | None] = {f"reviews/tarn/{tag}.md": heads[tag] + text for tag, text in texts.items()}
    problems = build.check(write(folder, files))
    return [problem for problem in problems if problem.code.startswith(("figure-", "meant-"))]


@pytest.mark.parametrize(
    "text",
    [
        "Sie wiegt 412 g.", "Sie wiegt 412,0 g.", "Sie wiegt rund 400 g.", "Sie wiegt 0,41 kg.", "Sie wiegt 390 bis 420 g.", "Sie wiegt über 400 g.",
        "Sie wiegt 24 g mehr als die Fenn.", "Die Fenn wiegt 388 g.", "Im Rucksack lagen 500 g Brot.", "Grad 2 heißt, dass alles nass ist.",
        "Die Tarn 3 bekam Grad 4.", "Am Hang waren es 15 km und 12 °C.", "Sie wiegt 421 g{meant}.",
    ],
)  # fmt: skip
def test_a_figure_that_the_data_bear_out_is_no_alarm(tmp_path: Path, text: str) -> None:
    """Readings, means, differences and bounds agree; what is about something else isn't held against the data."""
    english = text if "{meant}" in text else ""
    assert [p.code for p in checked(tmp_path, de=text, en=english) if p.code == "figure-data"] == []


@pytest.mark.parametrize(
    ("text", "written", "where"),
    [
        ("Sie wiegt 421 g.", "421 g", "rounds/trousers/mass.csv:4"),
        ("Ihr Gewicht: 0,45 kg", "0,45 kg", "rounds/trousers/mass.csv:4"),
        ("Mit 421 g ist die Tarn 3 leicht.", "421 g", "rounds/trousers/mass.csv:4"),
        ("Die Tarn 3 bekam Grad 1.", "Grad 1", "rounds/trousers/spray.csv"),
        ("Ihr Preis: 139,90 €.", "139,90 €", "products/tarn.yaml"),
    ],
)  # fmt: skip
def test_a_figure_against_the_data_is_told_with_both_places(
    tmp_path: Path, text: str, written: str, where: str
) -> None:
    """The caution stands at the figure and names the nearest reading, claim or price with its place."""
    (problem,) = [p for p in checked(tmp_path, de=text) if p.code == "figure-data"]
    assert problem.place.file == "reviews/tarn/de.md"
    assert problem.place.width == len(written)
    assert written in problem.message
    assert where in problem.message


def test_editions_that_disagree_are_told_with_both_places(tmp_path: Path) -> None:
    """30 °C here and 40 °C there: the caution stands at the translation's figure and names the lead's."""
    (problem,) = checked(tmp_path, de="## Wäsche\n\nBei 30 °C gewaschen.", en="## Washing\n\nWashed at 40 °C.")
    assert problem.code == "figure-differs"
    lines = {tag: SMALL[f"reviews/tarn/{tag}.md"].partition("## ")[0].count("\n") + 3 for tag in ("de", "en")}
    assert str(problem.place) == f"reviews/tarn/en.md:{lines['en']}:11"
    assert f"reviews/tarn/de.md:{lines['de']}:5" in problem.message
    assert "30 °C" in problem.message


def test_moved_paragraphs_are_compared_with_their_own(tmp_path: Path) -> None:
    """A translation with its paragraphs in another order, or with one more, isn't blamed for it."""
    de = "Am Hangsteig in Ebrichsau 15 km, 12 °C.\n\nAuf dem Tolljoch {mass} und 3 km, 7 °C."
    assert (
        checked(
            tmp_path / "a",
            de=de,
            en="Up the Tolljoch {mass} and 3 km, 7 °C.\n\nOn the Hangsteig at Ebrichsau 15 km, 12 °C.",
        )
        == []
    )
    en = "A new paragraph.\n\nOn the Hangsteig at Ebrichsau 15 km, 12 °C.\n\nUp the Tolljoch {mass} and 3 km, 8 °C."
    assert [p.code for p in checked(tmp_path / "b", de=de, en=en)] == ["figure-differs"]


def test_meant_prints_nothing_and_silences(tmp_path: Path) -> None:
    """`{meant}` disappears from text, heading, caption and front matter; without a figure before it it is told."""
    files: dict[str, str | bytes | None] = {
        "reviews/tarn/de.md": SMALL["reviews/tarn/de.md"]
        .replace("Eine leichte Hose.", "Sie wiegt 421 g{meant}.")
        .replace("title: Tarn 3", "title: Tarn 3 mit 421 g{meant}")
        .partition("## ")[0]
        + "## Bei 30 °C{meant}\n\nSie wiegt **450 g**{meant}.\n",
    }

    result = build.build(write(tmp_path / "pub", files), tmp_path / "site", None)
    assert result.published
    assert not [p for p in result.problems if p.code == "figure-data"]
    (page,) = (p for p in (tmp_path / "site/de/reviews").glob("*.html") if p.name != "index.html")
    text = page.read_text("utf-8")
    for every in (tmp_path / "site").rglob("*"):
        assert every.is_dir() or b"meant" not in every.read_bytes(), every
    assert "<strong>450\u00a0g</strong>." in text
    assert [p.code for p in checked(tmp_path / "b", de="Sie ist leicht{meant}.")] == ["meant-nothing"]


def test_the_demo_gives_no_false_alarm() -> None:
    """Nothing that the demo's authors typed contradicts its readings or its other editions."""
    problems = build.check(REPOSITORY / "demo_site")
    assert [p for p in problems if p.code.startswith(("figure-", "meant-"))] == []


def test_one_wrong_figure_in_the_demo_is_found(tmp_path: Path) -> None:
    """A copy of the demo with one temperature changed in one language: one caution, with both places."""
    import shutil

    copy = tmp_path / "demo"
    shutil.copytree(REPOSITORY / "demo_site", copy)
    file = copy / "reviews/arbeitstitel/en.md"
    before = file.read_text("utf-8")
    changed = before.replace("11\u00a0°C", "21\u00a0°C").replace("11 °C", "21 °C")
    assert changed != before
    file.write_text(changed, "utf-8")
    (problem,) = [p for p in build.check(copy) if p.code.startswith("figure-")]
    assert problem.code == "figure-differs"
    assert problem.place.file == "reviews/arbeitstitel/en.md"
    assert "reviews/arbeitstitel/de.md:" in problem.message


def test_a_figure_in_the_front_matter_is_read(tmp_path: Path) -> None:
    """Title, summary, points and captions are held against the data like running text."""
    files: dict[str, str | bytes | None] = {
        "reviews/tarn/de.md": SMALL["reviews/tarn/de.md"].replace("[schwer]", '["wiegt 421 g"]')
    }
    found = [p for p in build.check(write(tmp_path, files)) if p.code == "figure-data"]
    assert [p.place.file for p in found] == ["reviews/tarn/de.md"]


def test_problems_are_cautions(tmp_path: Path) -> None:
    """A typed figure never stops a publication."""
    problems = Problems()
    problems.extend(checked(tmp_path, de="Sie wiegt 421 g."))
    assert not problems.has_errors
    assert problems.cautions


def test_a_text_of_thousands_of_figures_is_still_read_soon(tmp_path: Path) -> None:
    """The cost grows with the text, not with its square: seven thousand figures take seconds, not minutes."""
    import time

    many = " ".join(f"{number} g. Also" for number in range(1, 3500))
    others = " ".join(f"{number} g. Also" for number in range(4000, 7500))
    blocks = "\n\n".join(f"Bei {number} °C" for number in range(600))
    start = time.process_time()
    checked(tmp_path / "a", de=many, en=others)
    checked(tmp_path / "b", de=blocks, en=f"More.\n\n{blocks}")
    checked(tmp_path / "c", de="9" * 40_000 + " g", en="1 " * 20_000 + "g")
    assert time.process_time() - start < 30
