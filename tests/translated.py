"""A publication with a guide in two languages, for tests of the editions."""

from pathlib import Path

from sitegen.cli import main
from sitegen.desk.editions_command import open_shelf
from sitegen.desk.text_shelf import Shelf
from sitegen.editions.following.parts import Part, blocks_of
from sitegen.place import Place
from sitegen.problems import Problems

SETTINGS = "name: Werkbank\nlead: de\neditions: [en, nl]\naddress: https://werkbank.example/\nauthor: A. Ostrau\n"
LEAD = """---
title: Nähte prüfen
summary: "Wie man Nähte prüft, mit {mass} und ohne."  # zwei Sätze
date: 2026-10-04
slug: naehte
photos:
  - {file: photos/naht.jpg, alt: Eine Naht, caption: 'Die Naht von innen'}
---
## Vorher

Zuerst trocknen, dann wiegen: {mass}. Näheres in der [Methode](method:spray).

- Naht außen
- Naht innen, siehe `tape`

| Stelle | Wert |
|---|---|
| Knie | {mass} |

Zuletzt aufschreiben.
"""
OWN = """---
# The English text.
title: Checking seams
summary: "How to check seams, with {mass} and without."
photos:
  - {file: photos/naht.jpg, alt: A seam, caption: 'The seam from inside'}
translator: B. Ostrau
---
## Before

First dry, then weigh: {mass}. More in the [method](method:spray).

- Seam outside
- Seam inside, see `tape`

| Place | Value |
|---|---|
| Knee | {mass} |

Write it down last.
"""


def write_guide(root: Path, lead: str = LEAD, own: str | None = OWN) -> Path:
    """The publication below a folder; without `own` there is no translation."""
    (root / "guides" / "seams").mkdir(parents=True)
    (root / "publication.yaml").write_bytes(SETTINGS.encode())
    (root / "guides/seams/de.md").write_bytes(lead.encode())
    if own is not None:
        (root / "guides/seams/en.md").write_bytes(own.encode())
    return root


def editions(root: Path, *arguments: str) -> int:
    """Run the command; its exit code."""
    return main(["editions", str(root), *arguments])


def shelf_of(root: Path) -> Shelf:
    """The texts of a publication that has no faults."""
    problems = Problems()
    shelf = open_shelf(root, problems)
    assert shelf is not None and not len(problems)
    return shelf


def blocks(*texts: str, name: str = "de.md") -> tuple[Part, ...]:
    """Parts from paragraphs."""
    return tuple(
        Part(f"text.{n}", text, place) for n, (text, place) in enumerate(blocks_of("\n\n".join(texts), 1, name), 1)
    )


def part(key: str, text: str) -> Part:
    """One part."""
    return Part(key, text, Place("de.md", 1, 1))


def change(path: Path, before: str, after: str) -> None:
    """Change a file as a person would; what is changed must be there."""
    text = path.read_bytes().decode()
    assert before in text
    path.write_bytes(text.replace(before, after).encode())
