"""Names of files that mean something else, or nothing, on another system than the author's.

Three systems, three rules: Linux takes any bytes and keeps capitals and accents as they were typed; macOS and Windows
hold names that differ only in capitals for one; macOS also those that differ only in how an accent is stored
(Unicode's normal forms C and D, UAX 15); Windows keeps some names for devices and takes no `<>:"|?*`, and no dot
or blank at a name's end (Microsoft, "Naming Files, Paths, and Namespaces"; from memory).
"""

import re
import unicodedata
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from pathlib import PurePosixPath

from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.records.fields.fields import Ref
from sitegen.text.source import is_nameless

FOLDERS = (
    "about", "addresses", "guides", "ledger", "photos", "products", "protocols", "reviews", "rigs", "rounds", "theme",
)  # fmt: skip
_DEVICE = re.compile(r"(?:con|prn|aux|nul|(?:com|lpt)[0-9\u00b9\u00b2\u00b3])(?:\..*)?", re.IGNORECASE)
_FORBIDDEN = re.compile(r'[<>:"|?*\\\x00-\x1f\x7f]')
_NAMED = ("LATIN", "CYRILLIC", "GREEK")  # scripts with letters that look alike in all fonts (UTS 39, 4)
_ELSEWHERE = "others who copy the publication can't"


def check_file_names(names: Iterable[str], problems: Problems) -> None:
    """Tell of every name among `names` (paths from the publication's folder) that isn't the same everywhere.

    Errors: two paths that would be one on another system, bytes that are no text. Cautions: what can't be copied to
    Windows, invisible signs, letters of two scripts in one word.
    """
    ours = [name for name in names if not name.endswith("/") and _is_ours(name)]
    for name in ours:
        _check_one(name, problems)
    for first, second in _clashes(ours):
        kind = "letters with accents that are stored in two ways" if _same_text(first, second) else "capitals"
        problems.error(
            "file-clash",
            Place(second, 1, 1),
            f"{quoted(second)} and {quoted(first)} differ only in {kind}: other systems hold them for one",
            "rename one of them",
        )


def check_picture_names(used: Iterable[Ref], problems: Problems) -> None:
    """Tell of pictures that would come out as the same file of the site, since their sizes are named after them."""
    seen: dict[str, Ref] = {}
    for ref in used:
        made = _folded(picture_stem(ref.id))
        first = seen.setdefault(made, ref)
        if first.id != ref.id:
            problems.error(
                "picture-clash",
                ref.place,
                f"{quoted(ref.id)} and {quoted(first.id)} would become the same picture of the site",
                "rename one of them so that they differ in more than the ending, blanks and capitals",
            )


def picture_stem(name: str) -> str:
    """How the sizes of a picture are named, but for their width and ending.

    >>> picture_stem("photos/wet sleeve.jpg")
    'photos/wet-sleeve'
    """
    return PurePosixPath(name).with_suffix("").as_posix().replace(" ", "-")


def stem_of(name: str) -> str:
    """The last part of a name, without its ending.

    >>> stem_of("reviews/halde/de.md")
    'de'
    """
    return name.rpartition("/")[2].rpartition(".")[0]


def below(names: Sequence[str], folder: str) -> Sequence[str]:
    """Of sorted names those anywhere below a folder. Searched for: tables by folder took as much room as all names again.

    >>> below(("a.md", "b-c/d.md", "b/c.md", "b/d/e.md", "b0.md"), "b")
    ('b/c.md', 'b/d/e.md')
    """
    return names[bisect_left(names, f"{folder}/") : bisect_left(names, f"{folder}0")]  # '0' follows '/' in ASCII


def among(names: Sequence[str], name: str) -> bool:
    """Whether a name is one of sorted ones.

    >>> among(("a.md", "b.md"), "b.md"), among(("a.md", "b.md"), "c.md")
    (True, False)
    """
    at = bisect_left(names, name)
    return at < len(names) and names[at] == name


def fits(name: str, form: Sequence[str]) -> bool:
    """Whether a name has the parts of `form`, in which `*` stands for any one part and `*.csv` for any with this ending.

    Compared by hand: capitals count here on every system, since they count on the host.
    """
    parts = name.split("/")
    return len(parts) == len(form) and all(
        part.endswith(want[1:]) if want.startswith("*") else part == want
        for part, want in zip(parts, form, strict=True)
    )


def is_device(name: str) -> bool:
    """Whether Windows keeps a name of a file or folder for a device, whatever its ending.

    >>> is_device("aux.html"), is_device("auxiliary.html")
    (True, False)
    """
    return bool(_DEVICE.fullmatch(name))


def _is_ours(name: str) -> bool:
    top, slash, _ = name.partition("/")
    return not slash or unicodedata.normalize("NFC", top).casefold() in FOLDERS


def _check_one(name: str, problems: Problems) -> None:
    at = Place(name, 1, 1)
    if is_nameless(name):
        message = f"the name {quoted(name)} holds bytes that are no text in UTF-8"
        problems.error(
            "file-name", at, message, "rename it; it was probably unpacked on a system with another encoding"
        )
        return
    for part in name.split("/"):
        fault = _fault_of(part)
        if fault:
            problems.caution("file-name", at, *fault)
            return


def _fault_of(part: str) -> tuple[str, str] | None:
    """What is wrong with one part of a path, and what to do."""
    if is_device(part):
        return f"Windows keeps the name {quoted(part)} for a device: {_ELSEWHERE}", "give it another name"
    if part.endswith((".", " ")) or part.startswith(" "):
        return f"{quoted(part)} begins or ends with a blank or a dot: {_ELSEWHERE}", "take it away"
    if found := _FORBIDDEN.search(part):
        return f"Windows takes no {quoted(found[0])} in a name such as {quoted(part)}: {_ELSEWHERE}", "leave it out"
    if hidden := next((letter for letter in part if unicodedata.category(letter) == "Cf"), ""):
        return f"the name {quoted(part)} holds the invisible sign U+{ord(hidden):04X}", "type the name anew"
    return _mixed(part)


def _mixed(part: str) -> tuple[str, str] | None:
    """A word with letters of two scripts: one of them is nearly always a look-alike that nobody meant."""
    for word in re.findall(r"[^\W\d_]+", part):
        by_script: dict[str, str] = {}
        for letter in word:
            script = unicodedata.name(letter, "").partition(" ")[0]
            if script in _NAMED:
                by_script.setdefault(script, letter)
        if len(by_script) > 1:
            rarest = min(
                by_script, key=lambda script: (sum(unicodedata.name(c, "").startswith(script) for c in word), script)
            )
            odd = by_script[rarest]
            told = f"U+{ord(odd):04X} {unicodedata.name(odd)}"
            return (
                f"{quoted(part)} mixes letters of two scripts: {quoted(odd)} is {told}",
                "type the name anew in one script",
            )
    return None


def _clashes(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Pairs of paths, of files or of folders, that other systems hold for one."""
    seen: dict[str, str] = {}
    for name in sorted(names):
        parts = name.split("/")
        for end in range(1, len(parts) + 1):
            path = "/".join(parts[:end])
            first = seen.setdefault(_folded(path), path)
            if first != path:
                yield first, path if end == len(parts) else name
                break


def _folded(name: str) -> str:
    """What two names share that are one elsewhere (Unicode 3.13, D145 canonical caseless matching)."""
    return unicodedata.normalize("NFD", unicodedata.normalize("NFD", name).casefold())


def _same_text(one: str, other: str) -> bool:
    return unicodedata.normalize("NFC", one) == unicodedata.normalize("NFC", other)
