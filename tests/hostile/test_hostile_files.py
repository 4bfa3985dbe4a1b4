"""Files made to take time or memory are refused at their place, in words, before they have taken either."""

import zlib
from pathlib import Path

import pytest
from builders import write

from bench.hostile_files import SVG, moving, noise, plain, png
from sitegen.cli import main
from sitegen.disk import images
from sitegen.disk.images import BadPicture, SizedPicture, make_sizes
from sitegen.disk.pictures import sized_picture
from sitegen.pipeline.build import check
from sitegen.place import Place
from sitegen.problems import MOST_TOLD, Problems
from sitegen.records.fields.fields import Ref
from sitegen.records.names.file_names import check_file_names, check_picture_names
from sitegen.text import csv_rows, yaml_nodes
from sitegen.text.csv_rows import parse_csv
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import parse_yaml


def told(problems: Problems) -> list[str]:
    return [f"{p.place} {p.code}: {p.message}" for p in problems]


@pytest.mark.parametrize("limit", ["MOST_ROWS", "MOST_CELLS"])
def test_a_table_too_large_is_refused_at_its_row(limit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows are counted before anything is made of them, cells while they are made."""
    monkeypatch.setattr(csv_rows, limit, {"MOST_ROWS": 3, "MOST_CELLS": 6}[limit])
    problems = Problems()
    assert parse_csv(Source("x.csv", "a,b\n" + "1,2\n" * 4, ""), problems) is None
    most = {
        "MOST_ROWS": "x.csv:4:1 csv-size: expected a table of at most 3 rows",
        "MOST_CELLS": "x.csv:5:1 csv-size: expected a table of at most 6 cells",
    }
    assert told(problems) == [f"{most[limit]}, found a larger one"]


@pytest.mark.parametrize(
    ("text", "place"), [("a: [1, 2, 3, 4]\n", "x.yaml:1:11"), ("[[], [], [], [], []]\n", "x.yaml:1:18")]
)
def test_a_yaml_file_of_too_many_values_is_refused(text: str, place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Written out, not only by aliases: the place is that of the first value too many."""
    monkeypatch.setattr(yaml_nodes, "MOST_WRITTEN", 5)
    problems = Problems()
    assert parse_yaml(Source("x.yaml", text, ""), problems) is None
    assert told(problems) == [f"{place} yaml-size: expected at most 5 values in a file, found more"]


def test_one_fault_on_every_line_is_told_some_times() -> None:
    """A key given a thousand times over is told MOST_FAULTS times, and the last of them says so."""
    problems = Problems()
    parse_yaml(Source("x.yaml", "a: 1\n" * 1000, ""), problems)
    assert len(problems) == yaml_nodes.MOST_FAULTS
    assert told(problems)[-1].endswith("; further ones like it are not listed")


def test_a_file_at_fault_on_every_line_is_told_in_bounded_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A script's slip in some thousand rows and samples: the first ones of each file are told, then how many more there
    are; another file's only fault is still told, the last line counts them all, and the exit code is that of errors.
    """
    rows = "".join(f"p{number},1,412.0,g,2026-08-11,\n" for number in range(1_000))
    folder = write(
        tmp_path / "pub",
        {
            "rounds/trousers/mass.csv": f"product,specimen,value,unit,date,note\n{rows}",
            "ledger.yaml": "samples:\n" + "  - {a: b}\n" * 1_000,
            "products/fenn.yaml": "name: Fenn\nmaker: Otterbach\nversions: [{id: x}]\ncolour: grey\n",
        },
    )
    found = check(folder)
    assert len(found.errors) > 3_000
    assert main(["check", str(folder)]) == 1
    lines = capsys.readouterr().err.split("\n")
    assert len(lines) < 2 * 4 * (MOST_TOLD + 1) + 40
    for file in ("ledger.yaml", "rounds/trousers/mass.csv"):
        (more,) = (line for line in lines if line.startswith(f"{file}:") and line.endswith("[many]"))
        heads = [line for line in lines if line.startswith(f"{file}:") and ": error:" in line]
        all_of_it = sum(problem.place.file == file for problem in found.errors)
        assert len(heads) == MOST_TOLD + 1 and heads[-1] == more
        assert f"error: {all_of_it - MOST_TOLD:,} more errors in this file are not listed" in more
    assert any(line.startswith("products/fenn.yaml:4:1: error:") for line in lines)
    assert lines[-2] == f"{len(found.errors)} errors, {len(found.cautions)} caution{'s' * (len(found.cautions) != 1)}"


PICTURES = {
    "a size that nothing holds": (png(65_000, 65_000), "has 65000 × 65000 points, more than 120 million"),
    "too many points in colour": (png(9_000, 9_000, b"", 2), "has 9000 × 9000 points, which take more than 200 MB unpacked: save it as JPEG"),
    "taller than a page takes": (plain("PNG", 1, 30_000), "has 1 × 30000 points: 30000 high on the page, more than 16383"),
    "a drawing with a script": (SVG, "is no JPEG, PNG or WebP picture: save it as JPEG or PNG"),
    "an animated GIF": (moving("GIF"), "is no JPEG, PNG or WebP picture: save it as JPEG or PNG"),
    "an animated PNG": (moving("PNG"), "holds 3 pictures, and a page shows one: save the one that is meant"),
    "an animated WebP": (moving("WEBP"), "holds 3 pictures, and a page shows one: save the one that is meant"),
    "pages of a scan": (moving("TIFF"), "is no JPEG, PNG or WebP picture: save it as JPEG or PNG"),
}  # fmt: skip


def sizes_of(path: Path) -> tuple[SizedPicture, ...]:
    with path.open("rb") as original:
        return make_sizes(original)


@pytest.mark.parametrize("what", PICTURES)
def test_a_hostile_picture_is_refused_in_words(what: str, tmp_path: Path) -> None:
    """Whatever its ending says; by its head alone where that is enough."""
    data, words = PICTURES[what]
    (tmp_path / "a.jpg").write_bytes(data)
    with pytest.raises(BadPicture) as refused:
        sized_picture(tmp_path, "a.jpg")
    assert str(refused.value) == words


@pytest.mark.parametrize(
    "data", [noise("JPEG")[:20_000], noise("PNG")[:20_000], png(50, 50, zlib.compress(b"\0" * 100)), png(0, 0)]
)
def test_a_broken_picture_is_refused_in_words(data: bytes, tmp_path: Path) -> None:
    """Cut short, or with fewer points than it declares."""
    (tmp_path / "a.png").write_bytes(data)
    with pytest.raises(BadPicture, match="^(can't be read: .|is no )"):
        sizes_of(tmp_path / "a.png")


def test_a_huge_picture_file_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its size is asked before its bytes."""
    monkeypatch.setattr(images, "LARGEST_FILE", 100)
    (tmp_path / "a.jpg").write_bytes(plain("JPEG", 64, 48))
    with pytest.raises(BadPicture, match="is a file of more than 0 MiB"):
        sized_picture(tmp_path, "a.jpg")


NAMES = [
    (("photos/a.jpg", "photos/A.jpg"), "photos/a.jpg:1:1 file-clash: 'photos/a.jpg' and 'photos/A.jpg' differ only in capitals"),
    (("photos/\u00e9.jpg", "photos/e\u0301.jpg"), "differ only in letters with accents that are stored in two ways"),
    (("photos/nul.jpg",), "photos/nul.jpg:1:1 file-name: Windows keeps the name 'nul.jpg' for a device"),
    (("reviews/con/de.md",), "Windows keeps the name 'con' for a device"),
    (("photos/a./b.jpg",), "'a.' begins or ends with a blank or a dot"),
    (("photos/a?.jpg",), "Windows takes no '?' in a name such as 'a?.jpg'"),
    (("photos/a\u200bb.jpg",), "holds the invisible sign U+200B"),
    (("photos/h\u0430lde.jpg",), "is U+0430 CYRILLIC SMALL LETTER A"),
    (("photos/\udcff.jpg",), "holds bytes that are no text in UTF-8"),
]  # fmt: skip


@pytest.mark.parametrize(("names", "words"), NAMES)
def test_a_name_that_is_another_elsewhere_is_told(names: tuple[str, ...], words: str) -> None:
    """Capitals, normal forms (UAX 15), devices, blanks, look-alikes: once each, at the file."""
    problems = Problems()
    check_file_names(names, problems)
    assert len(problems) == 1 and words in told(problems)[0]


def test_sound_names_are_let_pass() -> None:
    """Umlauts, blanks within, console.jpg, and the author's own folders are nobody's business."""
    problems = Problems()
    check_file_names(("photos/größe 2.jpg", "photos/console.jpg", "photos/a.tif", "notes/NUL", "notes/nul"), problems)
    assert told(problems) == []


def test_pictures_that_would_be_one_are_told() -> None:
    """The sizes of a picture are named without its ending, and with hyphens for blanks."""
    problems = Problems()
    check_picture_names(
        [Ref(n, Place("x.md", i, 1)) for i, n in enumerate(("photos/a b.jpg", "photos/a b.jpg", "photos/a-b.png"), 1)],
        problems,
    )
    assert [str(p.place) for p in problems] == ["x.md:3:1"]
