"""Problems are kept in order, told in plain words, and can't harm the terminal they are printed on."""

import pytest

from sitegen.place import Place
from sitegen.problems import (
    LEAD_WIDTH,
    MOST_NAMED,
    MOST_TOLD,
    SHOWN_WIDTH,
    Problem,
    Problems,
    Severity,
    nearest,
    quoted,
    render,
    some_of,
)


def error(column: int = 1, width: int = 1, message: str = "wrong", hint: str = "") -> Problem:
    return Problem("some-code", Severity.ERROR, Place("a/b.csv", 14, column, width), message, hint)


def test_a_place_prints_as_editors_read_it() -> None:
    """file:line:column, the form that editors and terminals turn into a link."""
    assert str(Place("rounds/r/mass.csv", 14, 5)) == "rounds/r/mass.csv:14:5"


def test_a_problem_shows_place_message_line_caret_and_hint() -> None:
    """The whole printed form, character by character."""
    problem = Problem(
        "number-syntax",
        Severity.ERROR,
        Place("rounds/ridge-2/mass.csv", 14, 5, 6),
        "expected a number of grams, found '1413,5'",
        "write 1413.5; each language puts its own decimal mark on the page",
    )
    assert render(problem, "  - 1413,5") == (
        "rounds/ridge-2/mass.csv:14:5: error: expected a number of grams, found '1413,5' [number-syntax]\n"
        "   14 |   - 1413,5\n"
        "      |     ^^^^^^\n"
        "   hint: write 1413.5; each language puts its own decimal mark on the page"
    )


def test_a_caution_without_line_and_hint_is_one_line() -> None:
    """What isn't known is left out, not printed empty."""
    problem = Problem("old", Severity.CAUTION, Place("x.yaml", 1, 1), "this is old")
    assert render(problem, None) == "x.yaml:1:1: caution: this is old [old]"


@pytest.mark.parametrize(
    ("line", "column", "width", "shown", "caret"),
    [
        pytest.param("\tmass: x", 8, 1, "    mass: x", "          ^", id="tab is four columns"),
        pytest.param("重さ: x", 5, 1, "重さ: x", "      ^", id="wide characters take two columns"),
        pytest.param("重さ: x", 1, 2, "重さ: x", "^^^^", id="a caret under wide characters is as wide"),
        pytest.param("e\u0301: x", 4, 1, "e\u0301: x", "  ^", id="combining marks take none"),
        pytest.param("\x1b[31mred: x", 10, 1, "␛[31mred: x", "         ^", id="escape is shown, not sent"),
        pytest.param("a\u202eb: x", 5, 1, "a\ufffdb: x", "    ^", id="direction marks don't reorder the line"),
        pytest.param("ab", 3, 1, "ab", "  ^", id="just after the end"),
        pytest.param("ab", 2, 99, "ab", " ^", id="a width ends with the line"),
    ],
)
def test_the_caret_stands_under_the_fault(line: str, column: int, width: int, shown: str, caret: str) -> None:
    """Tabs, East Asian width (UAX 11) and control characters don't move it (from memory)."""
    printed = render(error(column, width), line).split("\n")
    assert printed[1] == f"   14 | {shown}"
    assert printed[2] == f"      | {caret}"


def test_a_long_line_is_cut_around_the_fault() -> None:
    """The window is SHOWN_WIDTH columns; the fault stays in it with what led to it."""
    line = "x" * 5000 + "FAULT" + "y" * 5000
    _, shown, caret = render(error(5001, 5), line).split("\n")
    assert shown == "   14 | …" + "x" * (LEAD_WIDTH - 1) + "FAULT" + "y" * (SHOWN_WIDTH - LEAD_WIDTH - 6) + "…"
    assert caret == "      | " + " " * LEAD_WIDTH + "^^^^^"


def test_nothing_from_a_guest_text_steers_the_terminal() -> None:
    """No control character comes through message, hint, name or line."""
    problem = Problem("c", Severity.ERROR, Place("\x1b]0;x\x07", 1, 1), "\x1b[2Jhi\n", "\x9b31m")
    assert not any(c in render(problem, "\x00\x1b\x7f\x9b\r") for c in "\x00\x1b\x7f\x9b\x07\r")


def test_problems_are_told_worst_first() -> None:
    """Errors before cautions, then by file, line, column; those of one place in the order found."""
    problems = Problems()
    problems.caution("c", Place("a", 1, 1), "caution")
    problems.error("d", Place("b", 2, 1), "third")
    problems.error("e", Place("a", 10, 2), "second")
    problems.error("f", Place("a", 9, 3), "first")
    assert [p.message for p in problems.worst_first()] == ["first", "second", "third", "caution"]
    assert (len(problems), len(problems.errors), len(problems.cautions)) == (4, 3, 1)
    assert problems.has_errors


def test_problems_of_another_process_are_taken_over() -> None:
    """A worker hands back its problems as plain values."""
    problems = Problems()
    problems.extend((error(message="a"), error(message="b")))
    assert [p.message for p in problems] == ["a", "b"]


def test_cautions_alone_stop_nothing() -> None:
    """has_errors is about errors only."""
    problems = Problems()
    problems.caution("c", Place("a", 1, 1), "caution")
    assert not problems.has_errors


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("drying-time", "drying_time"),
        ("Drying time", "drying_time"),
        ("drying_tme", "drying_time"),
        ("MASS", "mass"),
        ("mäss", "mass"),
        ("zzz", None),
        ("", None),
        ("m" * 1000, None),
    ],
)
def test_the_nearest_word_is_the_one_that_was_meant(word: str, meant: str | None) -> None:
    """Case, accents, hyphens and single slips don't hide a word; what is far off gives none."""
    assert nearest(word, ["drying_time", "mass", "spray"]) == meant


def test_a_hint_lists_some_names_and_counts_the_others() -> None:
    """A screen is not filled with names, and none is left out without a word; without any, so it says."""
    assert some_of([]) == "none" and some_of(["mass", "spray"]) == "mass, spray"
    names = [f"round-{number}" for number in range(1_000 + MOST_NAMED)]
    assert some_of(names[:MOST_NAMED]) == ", ".join(names[:MOST_NAMED])
    assert some_of(names) == f"{', '.join(names[:MOST_NAMED])}, and 1,000 more"


def test_quoted_text_is_short_and_harmless() -> None:
    """A message repeats forty characters at most."""
    assert quoted("a\x1bb") == "'a␛b'"
    assert quoted("x" * 100) == "'" + "x" * 39 + "…'"


def test_of_one_file_so_many_faults_are_told_and_the_others_counted() -> None:
    """A slip of a script spoils every line alike: the first ones are told, then how many more there are, file by file."""
    problems = Problems()
    for file, count in (("a.csv", MOST_TOLD + 5), ("b.csv", MOST_TOLD), ("c.csv", MOST_TOLD + 1)):
        for line in range(1, count + 1):
            problems.error("x", Place(file, line, 1), f"wrong {line}")
    told = problems.worst_first()
    assert [p.message for p in told if p.code == "many"] == ["5 more errors in this file are not listed"]
    assert [sum(p.place.file == file for p in told) for file in ("a.csv", "b.csv", "c.csv")] == [
        MOST_TOLD + 1, MOST_TOLD, MOST_TOLD + 1,
    ]  # fmt: skip
    assert len(problems) == 3 * MOST_TOLD + 6 and problems.has_errors


def test_errors_and_cautions_are_counted_apart() -> None:
    """Thousands of cautions of a file never hide its error."""
    problems = Problems()
    for line in range(1, 3 * MOST_TOLD):
        problems.caution("x", Place("a.csv", line, 1), "odd")
    problems.error("y", Place("a.csv", 9000, 1), "wrong")
    told = problems.worst_first()
    assert (
        told[0].message == "wrong"
        and told[-1].message == f"{2 * MOST_TOLD - 1} more cautions in this file are not listed"
    )
