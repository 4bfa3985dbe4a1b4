"""The texts of a publication as the editions command needs them: opened one by one, only where something must be known."""

from dataclasses import field
from functools import cached_property
from pathlib import Path, PurePosixPath

from sitegen.datatypes import dataclass
from sitegen.editions.following.freshness import BEHIND, COMPLETE, MISSING, UNRECORDED, Pair, check_even, compare
from sitegen.editions.following.parts import Part, parts_of_file
from sitegen.problems import Problems
from sitegen.records.texts.follows import Follows, follows_name, read_one
from sitegen.text.front_matter import split_front_matter
from sitegen.text.source import Source, digest_of, open_inside, read_inside, read_source, stands_inside

KINDS = {"reviews": "review", "guides": "guide", "about": "about"}


class WrongUse(Exception):
    """The command can't be meant so; what is wrong is its argument."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A text file taken apart."""

    source: Source
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class TextFiles:
    """A text with its files: `name` is its folder (`reviews/halde`), `files` are by language."""

    name: str
    lead_file: str
    files: dict[str, str]

    @property
    def kind(self) -> str:
        """The kind of its page."""
        return KINDS[self.name.split("/")[0]]

    def file(self, lang: str) -> str:
        """Where the text in a language stands, or would stand."""
        return self.files.get(lang, f"{self.name}/{lang}.md")


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """How a translation stands."""

    text: TextFiles
    lang: str
    state: str
    changes: tuple[Pair, ...] = ()


@dataclass
class Shelf:
    """All texts below a folder; each file is read at most once."""

    root: Path
    names: tuple[str, ...]
    lead: str
    editions: tuple[str, ...]
    problems: Problems
    _opened: dict[str, Opened | None] = field(default_factory=dict)
    _digests: dict[str, str] = field(default_factory=dict)
    _follows: dict[str, Follows | None] = field(default_factory=dict)

    @cached_property
    def texts(self) -> tuple[TextFiles, ...]:
        """Every text that has a lead, by name; texts in languages nobody declared are left to `sitegen check`."""
        found: dict[str, dict[str, str]] = {}
        for path in map(PurePosixPath, self.names):
            parts = path.parts
            if path.suffix != ".md" or parts[0] not in KINDS or len(parts) != 2 + (parts[0] != "about"):
                if path.suffix == ".md" and len(parts) == 2 and parts[0] in KINDS:
                    found.setdefault(f"{parts[0]}/{path.stem}", {})[self.lead] = path.as_posix()
                continue
            found.setdefault("/".join(parts[:-1]), {}).setdefault(path.stem, path.as_posix())
        tags = (self.lead, *self.editions)
        kept = {name: {tag: files[tag] for tag in tags if tag in files} for name, files in sorted(found.items())}
        return tuple(TextFiles(name, files[self.lead], files) for name, files in kept.items() if self.lead in files)

    def open(self, name: str) -> Opened | None:
        """A file's parts, None once its fault is reported."""
        if name not in self._opened:
            source = read_source(self.root, name, self.problems)
            front = split_front_matter(source, self.problems) if source else None
            self._opened[name] = Opened(source, parts_of_file(front, name)) if source and front else None
        return self._opened[name]

    def follows(self, translation: str) -> Follows | None:
        """What a translation follows, None where that isn't recorded (or can't be read, which is reported)."""
        if translation not in self._follows:
            name = follows_name(translation)
            self._follows[translation] = (
                read_one(self.root, name, self.problems) if stands_inside(self.root, name) else None
            )
        return self._follows[translation]

    def status(self, text: TextFiles, lang: str) -> Status:
        """How one translation stands."""
        file = text.files.get(lang)
        if file is None:
            return Status(text=text, lang=lang, state=MISSING)
        if self._is_untouched(text, file):
            return Status(text=text, lang=lang, state=COMPLETE)
        follows, lead, own = self.follows(file), self.open(text.lead_file), self.open(file)
        if lead is None or own is None:
            return Status(text=text, lang=lang, state=UNRECORDED)
        check_even(lead.parts, own.parts, follows, self.problems)
        if follows is None:
            return Status(text=text, lang=lang, state=UNRECORDED)
        changes = compare(lead.parts, own.parts, follows)
        return Status(text=text, lang=lang, state=BEHIND if changes else COMPLETE, changes=changes)

    def statuses(self) -> tuple[Status, ...]:
        """How every translation stands, by text, in the order of the editions."""
        return tuple(self.status(text, lang) for text in self.texts for lang in self.editions)

    def _is_untouched(self, text: TextFiles, file: str) -> bool:
        """Whether both files still have the bytes that were recorded as in step; then nothing must be parsed."""
        try:
            with open_inside(self.root, follows_name(file)) as opened:
                top = opened.read(600)
        except OSError:
            return False
        line = next((line for line in top.split(b"\n") if line.startswith(b"files: ")), b"")
        wanted = line.removeprefix(b"files: ").decode("ascii", "replace").split()
        return wanted == [self._digest(text.lead_file), self._digest(file)]

    def _digest(self, name: str) -> str:
        if name not in self._digests:
            try:
                self._digests[name] = digest_of(read_inside(self.root, name))
            except OSError:
                self._digests[name] = ""
        return self._digests[name]
