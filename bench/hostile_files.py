"""Files made to take a reader's time or memory, each as small as it can be for what it asks; with the bounds they must keep."""

import struct
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from io import BytesIO

MIB = 1024 * 1024
TEXT, TABLE = 4 * MIB, 8 * MIB  # the largest files that are read at all


@dataclass(frozen=True, slots=True)
class Hostile:
    """One hostile file: where it lies, what makes it, and the most it may take (CPU seconds, MB at once).

    `code` is what is told of it; empty where it is only to be borne.
    """

    name: str
    make: Callable[[], bytes]
    code: str
    cpu: float = 5.0
    memory: float = 300.0
    builds: bool = False  # pictures are looked at only by a build


def _repeated(unit: str, most: int = TEXT, head: str = "", tail: str = "") -> Callable[[], bytes]:
    """As many copies of a unit as the largest file holds."""
    return lambda: (head + unit * ((most - len((head + tail).encode())) // len(unit.encode())) + tail).encode()


def _numbered(form: str, most: int = TEXT, head: str = "") -> Callable[[], bytes]:
    """Units that all differ: `#` in the form is their number."""

    def make() -> bytes:
        units, size, number = [head], len(head), 0
        while size < most - 40:
            unit = form.replace("#", str(number))
            units.append(unit)
            size += len(unit.encode())
            number += 1
        return "".join(units).encode()

    return make


def _aliases(levels: int) -> Callable[[], bytes]:
    def make() -> bytes:
        lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
        lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, levels)]
        return "\n".join(lines).encode()

    return make


_HEAD = "---\ntitle: Tarn 3\nsummary: x\nproduct: tarn\ndate: 2026-10-04\nslug: tarn\n---\n"
_REVIEW, _MASS = "reviews/tarn/de.md", "rounds/trousers/mass.csv"
_SHEET, SHEET = "theme/extra.css", 1024 * 1024
_COLUMNS = "product,specimen,value,unit,date,note\n"


def _body(unit: str, most: int = TEXT) -> Callable[[], bytes]:
    return _repeated(unit, most, _HEAD)


# Pictures


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, data: bytes = b"", colour: int = 0, *more: bytes) -> bytes:
    """A PNG (ISO/IEC 15948) that declares any size; `data` is what its points are unpacked from."""
    head = _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(more) + _chunk(b"IDAT", data) + _chunk(b"IEND", b"")


def _png_bomb(width: int, height: int, bands: int) -> Callable[[], bytes]:
    """All its points are there, packed a thousandfold."""

    def make() -> bytes:
        packer = zlib.compressobj(9)
        row = b"\0" * (1 + width * bands)
        data = b"".join([packer.compress(row) for _ in range(height)] + [packer.flush()])
        return png(width, height, data, {1: 0, 3: 2, 4: 6}[bands])

    return make


def _text_bomb() -> bytes:
    packed = zlib.compress(b"\0" * (1024 * MIB), 9)
    return png(1, 1, zlib.compress(b"\0\0"), 0, _chunk(b"zTXt", b"Comment\0\0" + packed))


def _profile_bomb() -> bytes:
    packed = zlib.compress(b"\0" * (1024 * MIB), 9)
    return png(1, 1, zlib.compress(b"\0\0"), 0, _chunk(b"iCCP", b"x\0\0" + packed))


def moving(kind: str) -> bytes:
    """An animation of three pictures."""
    from PIL import Image

    frames = [Image.new("RGB", (64, 48), colour) for colour in ("red", "green", "blue")]
    buffer = BytesIO()
    frames[0].save(buffer, kind, save_all=True, append_images=frames[1:], duration=100)
    return buffer.getvalue()


def noise(kind: str, width: int = 640, height: int = 480) -> bytes:
    """A picture that hardly packs."""
    from PIL import Image

    buffer = BytesIO()
    Image.effect_noise((width, height), 90).convert("RGB").save(buffer, kind)
    return buffer.getvalue()


def plain(kind: str, width: int, height: int, mode: str = "RGB") -> bytes:
    """A picture of one colour."""
    from PIL import Image

    buffer = BytesIO()
    Image.new(mode, (width, height)).save(buffer, kind)
    return buffer.getvalue()


SVG = b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"
_PHOTO = "photos/tarn.jpg"


def _picture(make: Callable[[], bytes], memory: float = 300.0, cpu: float = 5.0) -> Hostile:
    return Hostile(_PHOTO, make, "picture", cpu, memory, builds=True)


HOSTILE: Mapping[str, Hostile] = {
    # Any text
    "text of 5 MiB": Hostile(_REVIEW, lambda: b"x" * (5 * MIB), "file-size"),
    "table of 65 MiB": Hostile(_MASS, lambda: b"x" * (65 * MIB), "file-size"),
    "4 MiB of control characters": Hostile(_REVIEW, _repeated("\x07"), "control-character", memory=500),
    "4 MiB of bytes that are no text": Hostile(_REVIEW, lambda: b"\xff" * TEXT, "not-utf8"),
    # YAML
    "aliases for a billion texts": Hostile("products/tarn.yaml", _aliases(9), "yaml-size"),
    "a chain of 20,000 aliases": Hostile("products/tarn.yaml", _numbered("k#: &k# [*k0]\n", TEXT // 8, "k0: &k0 x\n"), "unknown-key"),
    "brackets in brackets, 4 million": Hostile("products/tarn.yaml", _repeated("["), "yaml-depth"),
    "braces in braces, 1 million": Hostile("products/tarn.yaml", _repeated("{a: "), "yaml-depth"),
    "lists in lists, 2 million": Hostile("products/tarn.yaml", _repeated("- "), "yaml-depth"),
    "complex keys, 2 million": Hostile("products/tarn.yaml", _repeated("? "), "yaml-depth"),
    "a list of 2 million": Hostile("products/tarn.yaml", _repeated("1,", head="a: [", tail="]"), "yaml-size", memory=500),
    "200,000 unknown keys": Hostile("products/tarn.yaml", _numbered("k#: x\n", 2_100_000), "unknown-key", memory=500),
    "one key 800,000 times": Hostile("products/tarn.yaml", _repeated("a: \n"), "yaml-size", memory=500),
    "one key 200,000 times": Hostile("products/tarn.yaml", _repeated("a: \n", 800_000), "yaml-twice", memory=500),
    "a key of 4 MiB": Hostile("products/tarn.yaml", _repeated("k", tail=": x\n"), "yaml-syntax"),
    "a text of 4 MiB": Hostile("products/tarn.yaml", _repeated("x", head="name: "), "field-value"),
    "a quote open for 4 MiB": Hostile("products/tarn.yaml", _repeated("x\n  ", head='name: "'), "yaml-syntax"),
    "4 MiB of line ends": Hostile("products/tarn.yaml", _repeated("\n", head="name:", tail="a: b\n"), "unknown-key", memory=500),
    "a million documents": Hostile("products/tarn.yaml", _repeated("---\n"), "yaml-documents"),
    "800,000 tags": Hostile("products/tarn.yaml", _repeated("- !x\n"), "yaml-size", 10, 500),
    "a comment of 4 MiB": Hostile("products/tarn.yaml", _repeated("#"), "missing-key"),
    "300,000 samples at fault": Hostile("ledger.yaml", _repeated("- {}\n", head="samples:\n"), "yaml-size", 10, 500),
    "100,000 samples at fault": Hostile("ledger.yaml", _repeated(" - {a: b}\n", 1_000_000, "samples:\n"), "many", 10),
    "100,000 languages of one name": Hostile("products/tarn.yaml", _numbered("  a#: x\n", 1_000_000, "name:\n"), "missing-key", memory=500),
    # Front matter
    "a front matter of 4 MiB": Hostile(_REVIEW, _repeated("x", head="---\ntitle: ", tail="\n---\n"), "field-value"),
    "a front matter of 300,000 keys": Hostile(_REVIEW, _numbered("k#: x\n", TEXT - 10, "---\n"), "front-matter-fence", memory=500),
    "800,000 items in a front matter": Hostile(_REVIEW, _repeated("- x\n", head="---\ngood:\n", tail="---\n"), "yaml-size", memory=500),
    # Tables
    "a header of a million columns": Hostile(_MASS, _numbered("c#,", 8 * MIB), "csv-columns"),
    "a row of 8 million columns": Hostile(_MASS, _repeated(",", TABLE, _COLUMNS), "csv-columns"),
    "a quoted row of 2 million columns": Hostile(_MASS, _repeated('"x",', TABLE, _COLUMNS), "csv-columns"),
    "8 million empty rows": Hostile(_MASS, _repeated("\n", TABLE, _COLUMNS), "csv-size"),
    "700,000 rows": Hostile(_MASS, _repeated("tarn,1,41,,\n", TABLE, _COLUMNS), "csv-size"),
    "200,000 rows of a logger": Hostile(
        "rounds/trousers/run_time.csv", lambda: ("product,time,value\n" + "".join(f"tarn,{n},{300 - n / 1e4:.1f}\n" for n in range(199_000))).encode(), "", 40, 700
    ),
    "160,000 rows of unknown products": Hostile(_MASS, lambda: (_COLUMNS + "".join(f"p{n},1,412.0,g,,\n" for n in range(160_000))).encode(), "reading-product", 20, 700),
    "199,000 rows with too few cells": Hostile(_MASS, lambda: (_COLUMNS + "x,1\n" * 199_000).encode(), "csv-cells", memory=500),
    "199,000 numbers with two marks": Hostile(_MASS, lambda: ("product;value\n" + "tarn;1.234,5\n" * 199_000).encode(), "csv-number", 20, 500),
    "a cell of 8 MiB": Hostile(_MASS, _repeated("9", TABLE, _COLUMNS + "tarn,1,"), "csv-cells"),
    "a quoted cell of 8 MiB": Hostile(_MASS, _repeated("9\n", TABLE, _COLUMNS + 'tarn,1,"', '",g,,\n'), "csv-size"),
    "a quote open for 8 MiB": Hostile(_MASS, _repeated("9", TABLE, _COLUMNS + 'tarn,1,"'), "csv-quote"),
    "8 MiB of quotes": Hostile(_MASS, _repeated('""', TABLE, _COLUMNS), "csv-cells"),
    # Markdown
    "quotes in quotes, 4 million": Hostile(_REVIEW, _body(">"), "text-block"),
    "quotes in quotes, 50,000": Hostile(_REVIEW, _body(">", 50_000), "text-depth"),
    "lists in lists, 25,000": Hostile(_REVIEW, _repeated("- ", 50_000, _HEAD, "a"), "text-depth"),
    "lists indented ever deeper": Hostile(_REVIEW, lambda: (_HEAD + "".join("  " * n + "- a\n" for n in range(300))).encode(), "text-block"),
    "brackets in brackets, 4 million ": Hostile(_REVIEW, _body("["), "text-block"),
    "pictures in pictures, 500": Hostile(_REVIEW, _body("![", 1000 + len(_HEAD)), ""),
    "emphasis in emphasis, 12,000": Hostile(_REVIEW, _body("*a **b ", 50_000), "", 20),
    "emphasis that never ends": Hostile(_REVIEW, _body("*_" * 5 + "a", 50_000), "", 20),
    "runs of backticks, each longer": Hostile(_REVIEW, lambda: (_HEAD + " ".join("`" * n for n in range(1, 300))).encode(), "", 20),
    "a link's title never closed, 500 times": Hostile(_REVIEW, _body("[a](b \"", 3_400), "", 20),
    "open tags in one paragraph": Hostile(_REVIEW, _body("<a b", 50_000), "", 20),
    "open comments in one paragraph": Hostile(_REVIEW, _body("<!--", 50_000), "", 20),
    "tags in one paragraph": Hostile(_REVIEW, _body("<b>", 50_000), "html-in-text", 20),
    "ampersands and backslashes": Hostile(_REVIEW, _body("&#\\", 50_000), "", 20),
    "open braces in one paragraph": Hostile(_REVIEW, _body("{a ", 50_000), "brace-open", 20),
    "a table of 10,000 columns": Hostile(_REVIEW, lambda: (_HEAD + "|a" * 10_000 + "\n" + "|-" * 10_000 + "\n" + "|b" * 4_000).encode(), "table-name", 20),
    "tables of many short rows": Hostile(_REVIEW, lambda: (_HEAD + "|a" * 1_500 + "\n" + "|-" * 1_500 + "\n" + "|b\n" * 12_000).encode(), "table-name", 60, 1500),
    "100,000 definitions of links": Hostile(_REVIEW, _numbered("[a#]: /b\n\n", TEXT, _HEAD), "text-lines", 20),
    "9,000 definitions of links": Hostile(_REVIEW, lambda: (_HEAD + "".join(f"[a{n}]: /b\n\n" for n in range(9_000))).encode(), "", 20),
    "600,000 equal headings": Hostile(_REVIEW, _body("## a\n\n"), "text-lines"),
    "2 million paragraphs": Hostile(_REVIEW, _body("a\n\n"), "text-lines"),
    "800,000 values": Hostile(_REVIEW, _body("{m}\n\n"), "text-lines"),
    "50,000 paragraphs": Hostile(_REVIEW, lambda: (_HEAD + "a\n\n" * 50_000).encode(), "", 10),
    "50,000 equal headings": Hostile(_REVIEW, lambda: (_HEAD + "## a\n\n" * 50_000).encode(), "", 10),
    "50,000 values": Hostile(_REVIEW, lambda: (_HEAD + "{m}\n\n" * 50_000).encode(), "many", 10),
    # Style sheets
    "a style sheet of a million brackets": Hostile(_SHEET, _repeated("(", SHEET), "", 10),
    "a style sheet of a million semicolons": Hostile(_SHEET, _repeated(";", SHEET), "", 10),
    "a style sheet of foreign addresses": Hostile(_SHEET, _repeated("url(//x)", SHEET), "theme"),
    "a style sheet of open comments": Hostile(_SHEET, _repeated("/*", SHEET), "theme"),
    "a style sheet of 50 MiB": Hostile(_SHEET, _repeated(" ", 50 * MIB), "theme"),
    # Pictures
    "a PNG of 4 billion points": _picture(lambda: png(65_000, 65_000)),
    "a PNG of 400 million points, all there": _picture(_png_bomb(20_000, 20_000, 1)),
    "a PNG of 100 million points in colour": _picture(_png_bomb(10_000, 10_000, 3)),
    "a PNG of 49 million points with transparency": Hostile(_PHOTO, _png_bomb(7_000, 7_000, 4), "", 20, 1200, builds=True),
    "a PNG that declares points it hasn't": _picture(lambda: png(5_000, 5_000, zlib.compress(b"\0" * 100))),
    "a PNG without points": _picture(lambda: png(0, 0, zlib.compress(b""))),
    "a PNG with a comment of 1 GiB": _picture(_text_bomb),
    "a PNG with a profile of 1 GiB": Hostile(_PHOTO, _profile_bomb, "picture", builds=True),
    "a JPEG that breaks off": _picture(lambda: noise("JPEG")[:20_000]),
    "a JPEG of 30,000 × 1 points": Hostile(_PHOTO, lambda: plain("JPEG", 30_000, 1), "", builds=True),
    "a JPEG of 1 × 30,000 points": _picture(lambda: plain("JPEG", 1, 30_000)),
    "a drawing with a script": _picture(lambda: SVG),
    "an animated GIF": _picture(lambda: moving("GIF")),
    "an animated PNG": _picture(lambda: moving("PNG")),
    "an animated WebP": _picture(lambda: moving("WEBP")),
    "a TIFF of three pages": _picture(lambda: moving("TIFF")),
    "a picture file of 600 MiB": _picture(lambda: b"\xff\xd8\xff" + b"\0" * (600 * MIB)),
}  # fmt: skip

# ruff: noqa: E501 - tables of inputs read best with one a line
