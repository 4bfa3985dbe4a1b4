"""A Markdown file divided into its front matter and its body."""

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import Listing, Mapping, parse_yaml

_FENCE = "---"


@dataclass(frozen=True, slots=True)
class FrontMatter:
    """The data above a text, the text, and the line of the file on which the text begins."""

    data: Mapping
    body: str
    body_line: int


def split_front_matter(source: Source, problems: Problems) -> FrontMatter | None:
    """The YAML between the first line `---` and the next line `---`, and the Markdown below.

    A file without that first line is all body, with empty data: which fields are wanted, the records say.
    None after a problem was noted.
    """
    lines = source.text.split("\n")
    if lines[0].rstrip() != _FENCE:
        return _without(source, lines, problems)
    end = next((n for n in range(1, len(lines)) if lines[n].rstrip() == _FENCE), None)
    if end is None:
        _report_unclosed(source, lines, problems)
        return None
    data = parse_yaml(source, problems, first_line=2, text="\n".join(lines[1:end]) + "\n")
    if data is None:
        return None
    if not isinstance(data, Mapping):
        kind = "a list" if isinstance(data, Listing) else f"only the text {quoted(data.text)}"
        problems.error(
            "front-matter-kind",
            data.place,
            f"expected lines of the form 'key: value' between the two lines '---', found {kind}",
            "write for example: title: Three rain jackets compared",
        )
        return None
    return FrontMatter(data, "\n".join(lines[end + 1 :]), end + 2)


def _without(source: Source, lines: list[str], problems: Problems) -> FrontMatter | None:
    first = next((n for n, line in enumerate(lines) if line.strip()), 0)
    if lines[first].strip() != _FENCE or not any(line.strip() == _FENCE for line in lines[first + 1 :]):
        return FrontMatter(Mapping((), Place(source.name, 1, 1)), source.text, 1)
    where = "below blank lines" if first else "after blanks"
    problems.error(
        "front-matter-fence",
        Place(source.name, first + 1, lines[first].index(_FENCE) + 1, len(_FENCE)),
        f"expected '---' at the very start of the file, found it {where}",
        "delete what stands above and before it",
    )
    return None


def _report_unclosed(source: Source, lines: list[str], problems: Problems) -> None:
    near = next((n for n in range(1, len(lines)) if _is_near_fence(lines[n])), None)
    if near is None:
        problems.error(
            "front-matter-fence",
            Place(source.name, 1, 1, len(_FENCE)),
            "the front matter that begins here never ends",
            "write a line --- below its last key and above the text",
        )
        return
    found = lines[near].strip()
    problems.error(
        "front-matter-fence",
        Place(source.name, near + 1, lines[near].index(found) + 1, len(found)),
        f"expected a line '---' to end the front matter, found {quoted(lines[near].rstrip())}",
        "write exactly three hyphens at the start of the line",
    )


def _is_near_fence(line: str) -> bool:
    """Hyphens too few or too many, indented, or made dashes by a word processor."""
    mark = line.strip()
    return len(mark) >= 1 and not mark.strip("-–—") and mark not in {"-", "–"}
