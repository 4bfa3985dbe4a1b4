"""A page as a browser's parser sees it, as far as the tests ask."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

VOID = {
    "meta",
    "link",
    "img",
    "br",
    "source",
    "hr",
    "input",
    "wbr",
    "col",
    "path",
    "rect",
    "line",
    "circle",
    "use",
    "polyline",
}
ADDRESSES = {
    ("a", "href"),
    ("link", "href"),
    ("img", "src"),
    ("script", "src"),
    ("source", "srcset"),
    ("img", "srcset"),
}


@dataclass
class Page(HTMLParser):
    """Tags with their attributes, the text of each script, all ids; `path` is relative to the site."""

    path: str
    html: str
    tags: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    scripts: list[tuple[dict[str, str], str]] = field(default_factory=list)
    text: list[str] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    unbalanced: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.feed(self.html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        self.tags.append((tag, found))
        if tag == "script":
            self.scripts.append((found, ""))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.unbalanced.append(tag)

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            attrs, text = self.scripts[-1]
            self.scripts[-1] = (attrs, text + data)
        elif not self.open or self.open[-1] != "style":
            self.text.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        """The attributes of every element of a name."""
        return [attrs for name, attrs in self.tags if name == tag]

    def ids(self) -> list[str]:
        """Every id, in order."""
        return [attrs["id"] for _, attrs in self.tags if "id" in attrs]

    def links(self) -> list[str]:
        """Every address that the page names."""
        found = []
        for tag, attrs in self.tags:
            for name, value in attrs.items():
                if (tag, name) in ADDRESSES:
                    found += (
                        [part.split()[0] for part in value.split(",") if part.strip()] if name == "srcset" else [value]
                    )
        return found

    @property
    def plain(self) -> str:
        """What is read on the page, blanks folded."""
        return " ".join(" ".join(self.text).split())


def pages_of(site: Path) -> list[Page]:
    """Every page of a finished folder."""
    return [Page(path.relative_to(site).as_posix(), path.read_text()) for path in sorted(site.rglob("*.html"))]
