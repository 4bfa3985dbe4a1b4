"""Whatever an author does to the files, a check ends in sentences: it never raises, and each place can be pointed at."""

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from builders import MINIMAL, SMALL, write
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sitegen import stock
from sitegen.pipeline import reading
from sitegen.pipeline.build import check
from sitegen.problems import Problems, render
from sitegen.records.stock_records import Stock, read_stock
from sitegen.text.source import shown_line

ODD = (
    "", "[]", "{}", "null", "~", "[[]]", "{a: b}", "-1", "0", "-0.0", "1e999", "NaN", "inf", "-.inf", "999999999999999",
    "999999999999999.999999999999", "0.000000000001", "99999999999999999999", "2026-02-30", "0000-00-00", "9999-12-31", "2026-10", "12:30",
    "no", "yes", "{", "}", "{{mass}}", "\\{", "{mass of}", "{mass to 99 %}", "{ of  in }", "\u00fc\u00df\u4e2d\u0635", "\u0661\u0662",
    "\u202e", "412.0 g", "412,0", "-5 %", "5 °F", "after 999 washes", "new", "re-proofed", "tarn", "fenn", "mass", "spray", "run_time",
    "<script>", "&amp;", '"', "'", "|", ">", "*x", "&x 1", "!!python/object:x 1", "- a", "a: b: c", "#", "---", "x" * 6000, "photos/x.jpg",
    "=cmd", "0.5", "0.50000000001", "30", "3 %", "0 g", "0 %", "1000000 kg", "300 K", "0.5 mmH2O", "https://[x", "\t", "\u0000",
)  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def stock_read_once() -> Iterator[None]:
    """The stock content is the same for all examples; reading it anew would take most of the time."""
    kept: Stock = read_stock(stock.content_folder(), Problems())
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reading, "read_stock", lambda folder, problems: kept)
        yield


@st.composite
def mutations(draw: st.DrawFn, base: dict[str, str]) -> dict[str, str | bytes | None]:
    """The files of a publication after one to three slips."""
    files: dict[str, str | bytes | None] = dict(base)
    for _ in range(draw(st.integers(1, 3))):
        name = draw(st.sampled_from(sorted(base)))
        text = files[name]
        if isinstance(text, str):
            files[name] = draw(st.sampled_from(SLIPS))(draw, text)
    return files


def drop_line(draw: st.DrawFn, text: str) -> str:
    lines = text.split("\n")
    lines.pop(draw(st.integers(0, len(lines) - 1)))
    return "\n".join(lines)


def double_line(draw: st.DrawFn, text: str) -> str:
    lines = text.split("\n")
    at = draw(st.integers(0, len(lines) - 1))
    return "\n".join([*lines[: at + 1], lines[at], *lines[at + 1 :]])


def swap_lines(draw: st.DrawFn, text: str) -> str:
    lines = text.split("\n")
    one, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
    lines[one], lines[other] = lines[other], lines[one]
    return "\n".join(lines)


def odd_value(draw: st.DrawFn, text: str) -> str:
    """Put something odd behind one colon or in one cell."""
    marks = [i for i, c in enumerate(text) if c in ":,;[" and i + 1 < len(text)]
    if not marks:
        return text + draw(st.sampled_from(ODD))
    start = draw(st.sampled_from(marks)) + 1
    end = min((e for e in (text.find(c, start) for c in ",;]}\n") if e >= 0), default=len(text))
    return f"{text[:start]} {draw(st.sampled_from(ODD))}{text[end:]}"


def odd_cell(draw: st.DrawFn, text: str) -> str:
    """The same without the blank, as in a table."""
    marks = [i for i, c in enumerate(text) if c in ",;" and i + 1 < len(text)]
    if not marks:
        return text
    start = draw(st.sampled_from(marks)) + 1
    end = min((e for e in (text.find(c, start) for c in ",;\n") if e >= 0), default=len(text))
    return text[:start] + draw(st.sampled_from(ODD)) + text[end:]


def other_character(draw: st.DrawFn, text: str) -> str:
    at = draw(st.integers(0, max(0, len(text) - 1)))
    return text[:at] + draw(st.characters(codec="utf-8")) + text[at + draw(st.integers(0, 2)) :]


def cut_short(draw: st.DrawFn, text: str) -> str:
    return text[: draw(st.integers(0, len(text)))]


SLIPS = (
    drop_line,
    double_line,
    swap_lines,
    odd_value,
    odd_value,
    odd_value,
    odd_cell,
    odd_cell,
    other_character,
    cut_short,
)


def look(files: dict[str, str | bytes | None]) -> None:
    """Check a publication; every problem must be printable, at a place within its file."""
    folder = Path(tempfile.mkdtemp())
    try:
        write(folder, files, base={})
        for problem in check(folder):
            place, text = problem.place, files.get(problem.place.file)
            assert place.file and not place.file.startswith("/")
            assert place.line >= 1 and place.column >= 1
            if isinstance(text, str) and text.isprintable():
                assert place.line <= text.count("\n") + 1
            line = shown_line(folder, place.file, place.line)
            if line is not None:
                assert place.column <= len(line) + 1, problem
            assert len(problem.message.split()) >= 2, problem
            assert not any(
                word in problem.message for word in ("Traceback", "Error(", "Decimal(", "NoneType", "object at")
            )
            assert render(problem, line)
    finally:
        shutil.rmtree(folder)


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutations(SMALL))
def test_a_mutated_publication_is_told_in_sentences(files: dict[str, str | bytes | None]) -> None:
    """No slip in any file brings the check down."""
    look(files)


@settings(max_examples=50, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutations(MINIMAL))
def test_a_mutated_short_form_is_told_in_sentences(files: dict[str, str | bytes | None]) -> None:
    """No slip in a short form brings the check down."""
    look(files)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(sorted(SMALL)), st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_any_bytes_are_told_in_sentences(name: str, content: bytes) -> None:
    """No file, whatever bytes it holds, brings the check down."""
    look({**SMALL, name: content})
