"""No input, however broken, ends in a traceback, and every place that is told lies inside its file."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from sitegen.place import Place
from sitegen.problems import Problems, render
from sitegen.text.csv_rows import parse_csv
from sitegen.text.front_matter import split_front_matter
from sitegen.text.markdown import Body, parse_body
from sitegen.text.source import Source, read_source, shown_line
from sitegen.text.yaml_nodes import Listing, Mapping, Node, Scalar, parse_yaml

QUICK = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
# Pieces of the three languages: random bytes alone would seldom get past the first character.
_WRITTEN = (
    "---\n|- |? |: |a: |b:\n|[|]|{|}|,|;|\t|\n|\r\n|\r|  |\"|'|#|&x |*x|!t |\\|<<: "
    "|>|%|@|`|## |# |![|](|(x.md)|"
    "<b>|{m}|1,5|1.234,5|−|sep=;\n|ä|重|e\u0301|\u00a0|\u2028|\x85|\x00|\x1b|\ufeff|\U0001f9e5|- a\n"
)
PIECES = st.sampled_from([*_WRITTEN.split("|"), "|"])
BYTES = st.one_of(
    st.lists(PIECES, max_size=25).map(lambda pieces: "".join(pieces).encode()),
    st.lists(PIECES.map(str.encode) | st.binary(max_size=4), max_size=12).map(b"".join),
)
TEXTS = st.lists(PIECES | st.text(max_size=3), max_size=20).map("".join)


def check_places(places: Iterator[Place], text: str) -> None:
    lines = text.split("\n")
    for place in places:
        assert 1 <= place.line <= len(lines)
        assert 1 <= place.column <= len(lines[place.line - 1]) + 1
        assert place.width >= 1


def node_places(node: Node) -> Iterator[Place]:
    yield node.place
    inner = node.items if isinstance(node, Listing) else ()
    if isinstance(node, Mapping):
        inner = tuple(part for entry in node.entries for part in (entry.key, entry.value))
    for part in inner:
        yield from node_places(part)


def body_places(body: Body) -> Iterator[Place]:
    for piece in body.html:
        if not isinstance(piece, str):
            yield piece.place
    yield from (heading.place for heading in body.headings)
    yield from (paragraph.place for paragraph in body.paragraphs)


@QUICK
@given(BYTES, st.sampled_from(["x.csv", "x.yaml", "x.md"]))
@example(b"\xef\xbb\xbf", "x.yaml")
@example(b"\xff\xfe", "x.csv")
@example(b"a\r\n\xe4", "x.md")
def test_any_bytes_are_read_or_refused(tmp_path: Path, data: bytes, name: str) -> None:
    """Reading gives a text or one problem; what follows gives results or problems; all can be printed."""
    (tmp_path / name).write_bytes(data)
    problems = Problems()
    source = read_source(tmp_path, name, problems)
    assert (source is None) == problems.has_errors
    if source is not None:
        parse_csv(source, problems)
        parse_yaml(source, problems)
        found = split_front_matter(source, problems)
        if found is not None:
            parse_body(found.body, found.body_line, name, problems)
        check_places((p.place for p in problems), source.text)
    for problem in problems:
        assert "\x1b" not in render(problem, shown_line(tmp_path, name, problem.place.line))


@QUICK
@given(TEXTS)
def test_yaml_places_lie_in_the_file(text: str) -> None:
    """Also for texts that reading would have refused; None only after an error."""
    problems = Problems()
    found = parse_yaml(Source("x.yaml", text, ""), problems)
    assert found is not None or problems.has_errors
    check_places((p.place for p in problems), text)
    if found is not None:
        check_places(node_places(found), text)


@QUICK
@given(TEXTS)
def test_table_places_lie_in_the_file(text: str) -> None:
    """Every row has the header's cells; None only after an error."""
    problems = Problems()
    found = parse_csv(Source("x.csv", text, ""), problems)
    assert found is not None or problems.has_errors
    check_places((p.place for p in problems), text)
    if found is not None:
        assert {len(row.cells) for row in found.rows} <= {len(found.header)}
        check_places((cell.place for row in found.rows for cell in row.cells), text)


@QUICK
@given(TEXTS)
def test_text_places_lie_in_the_file(text: str) -> None:
    """Values, pictures, links, headings and blocks; no slot's mark or bare tag of the guest comes out."""
    problems = Problems()
    body = parse_body(text, 1, "x.md", problems)
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    check_places((p.place for p in problems), plain)
    check_places(body_places(body), plain)
    written = "".join(piece for piece in body.html if isinstance(piece, str))
    assert "<b>" not in written and "\ufdd0" not in written


@pytest.mark.parametrize("scalar", [Scalar("x", Place("a", 1, 1)), Scalar("x", Place("b", 9, 9))])
def test_where_a_thing_stands_is_no_part_of_what_it_says(scalar: Scalar) -> None:
    """Moving a line changes no meaning, so it must rebuild no page."""
    assert scalar == Scalar("x", Place("c", 5, 5)) and hash(scalar) == hash(Scalar("x", Place("c", 5, 5)))
