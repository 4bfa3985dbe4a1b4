"""A text's data stands between two lines of three hyphens, and each way to miss them is told."""

from collections.abc import Callable

import pytest

from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.text.front_matter import FrontMatter, split_front_matter
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import Entry, Mapping, Scalar

NOWHERE = Place("", 0, 0)
EMPTY = Mapping((), NOWHERE)
ONE_KEY = Mapping((Entry(Scalar("a", NOWHERE), Scalar("1", NOWHERE)),), NOWHERE)


def split(text: str) -> tuple[FrontMatter | None, Problems]:
    problems = Problems()
    return split_front_matter(Source("x.md", text, ""), problems), problems


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("---\na: 1\n---\nText\n", FrontMatter(ONE_KEY, "Text\n", 4), id="both"),
        pytest.param("---  \na: 1\n--- \n\nText", FrontMatter(ONE_KEY, "\nText", 4), id="blanks after a fence"),
        pytest.param("---\n---\nText", FrontMatter(EMPTY, "Text", 3), id="no data"),
        pytest.param("---\na: 1\n---", FrontMatter(ONE_KEY, "", 4), id="no text"),
        pytest.param("Text\n\n---\n\nmore", FrontMatter(EMPTY, "Text\n\n---\n\nmore", 1), id="a rule is no fence"),
        pytest.param("---\na: 1\n---\nx\n---\n", FrontMatter(ONE_KEY, "x\n---\n", 4), id="a rule further down"),
        pytest.param("", FrontMatter(EMPTY, "", 1), id="empty file"),
    ],
)
def test_data_and_text_are_divided(text: str, expected: FrontMatter) -> None:
    """The first two fences count; body_line is the file's line on which the text begins."""
    found, problems = split(text)
    assert (found, len(problems)) == (expected, 0)


def test_places_are_those_of_the_file() -> None:
    """The author looks for a fault in the file, not in the slice."""
    found, _ = split("---\na: 1\nb:\n  - 2\n---\n")
    assert found is not None
    assert [str(entry.key.place) for entry in found.data.entries] == ["x.md:2:1", "x.md:3:1"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param(
            "---\na: 1\n\nText\n",
            "x.md:1:1: error: the front matter that begins here never ends [front-matter-fence]\n"
            "    1 | ---\n"
            "      | ^^^\n"
            "   hint: write a line --- below its last key and above the text",
            id="never closed",
        ),
        pytest.param(
            "---\na: 1\n----\nText\n",
            "x.md:3:1: error: expected a line '---' to end the front matter, found '----' "
            "[front-matter-fence]\n"
            "    3 | ----\n"
            "      | ^^^^\n"
            "   hint: write exactly three hyphens at the start of the line",
            id="four hyphens",
        ),
        pytest.param(
            "---\na: 1\n—\nText\n",
            "x.md:3:1: error: expected a line '---' to end the front matter, found '—' [front-matter-fence]\n"
            "    3 | —\n"
            "      | ^\n"
            "   hint: write exactly three hyphens at the start of the line",
            id="a dash of a word processor",
        ),
        pytest.param(
            "\n---\na: 1\n---\nText\n",
            "x.md:2:1: error: expected '---' at the very start of the file, "
            "found it below blank lines [front-matter-fence]\n"
            "    2 | ---\n"
            "      | ^^^\n"
            "   hint: delete what stands above and before it",
            id="blank line above",
        ),
        pytest.param(
            " ---\na: 1\n---\nText\n",
            "x.md:1:2: error: expected '---' at the very start of the file, "
            "found it after blanks [front-matter-fence]\n"
            "    1 |  ---\n"
            "      |  ^^^\n"
            "   hint: delete what stands above and before it",
            id="indented",
        ),
        pytest.param(
            "---\n- a\n---\nText\n",
            "x.md:2:1: error: expected lines of the form 'key: value' between the two lines '---', "
            "found a list [front-matter-kind]\n"
            "    2 | - a\n"
            "      | ^\n"
            "   hint: write for example: title: Three rain jackets compared",
            id="a list",
        ),
        pytest.param(
            "---\njust words\n---\nText\n",
            "x.md:2:1: error: expected lines of the form 'key: value' between the two lines '---', "
            "found only the text 'just words' [front-matter-kind]\n"
            "    2 | just words\n"
            "      | ^^^^^^^^^^\n"
            "   hint: write for example: title: Three rain jackets compared",
            id="a text",
        ),
        pytest.param(
            "---\na: 1\nb: [2\n---\nText\n",
            "x.md:3:4: error: the bracket '[' that opens here is never closed [yaml-syntax]\n"
            "    3 | b: [2\n"
            "      |    ^\n"
            "   hint: close it with ']'; a text that begins with '[' goes in quotes",
            id="a fault of the data",
        ),
    ],
)
def test_each_slip_is_told(text: str, expected: str, printed: Callable[..., str]) -> None:
    """Nothing of the file is taken where its front matter can't be found."""
    found, problems = split(text)
    assert found is None
    assert printed(problems, text) == expected
