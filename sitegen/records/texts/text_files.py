"""Reads the files of reviews, guides and the about page, also reviews in the short form."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problem, Problems, nearest, quoted
from sitegen.records.fields.fields import Ref, author_fields, fail, take_values, unknown_key
from sitegen.records.fields.kinds import check_ident
from sitegen.records.measured.protocol import Protocol
from sitegen.records.names.file_names import among, stem_of
from sitegen.records.settings import ALLOWED_HTML, Settings
from sitegen.records.texts.first_published import check_first_published
from sitegen.records.texts.texts import ReviewFacts, ReviewHead, ShortFacts, Text, TextHead
from sitegen.text.front_matter import FrontMatter, split_front_matter
from sitegen.text.markdown import Body, parse_body
from sitegen.text.markdown_pieces import Parts as BodyParts
from sitegen.text.source import Source, read_source
from sitegen.text.yaml_nodes import Mapping as MappingNode
from sitegen.text.yaml_nodes import parse_yaml

if TYPE_CHECKING:  # loaded where there is a short form
    from sitegen.records.texts.short_form import Short

H = TypeVar("H", bound=TextHead)
G = TypeVar("G", bound="Guide")
_FACT_KEYS = tuple(key for cls in (ReviewFacts, ShortFacts) for key, _ in author_fields(cls))
_SHARED = tuple(key for key, _ in author_fields(ReviewFacts))


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """A guide or the about page: one text for each language, the lead first."""

    id: str
    texts: tuple[Text, ...]
    place: Place = field(compare=False, repr=False)

    def text(self, lang: str) -> Text | None:
        """The text in one language."""
        return next((t for t in self.texts if t.lang == lang), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Review(Guide):
    """A review: texts, and the facts that they share."""

    facts: ReviewFacts
    short: bool = False


def without_bodies(guide: G) -> G:
    """All of a text that other pages than its own may show, and its facts."""
    return replace(guide, texts=tuple(replace(text, body=text.body.naming()) for text in guide.texts))


Days = tuple[tuple[str, dt.date], ...]
"""The day that each text of a page is dated, by language; without that of a text that gives none."""


def days_of(guide: Guide) -> Days:
    """The days of a page's texts."""
    return tuple((text.lang, text.head.date) for text in guide.texts if text.head.date is not None)


def with_bodies(guide: G, load: Callable[[str], BodyParts]) -> G:
    """A text whose bodies are looked up by their file when somebody looks into them."""
    texts = (replace(text, body=text.body.naming(partial(load, text.file))) for text in guide.texts)
    return replace(guide, texts=tuple(texts))


@dataclass(frozen=True, slots=True)
class _File:
    """A text file taken apart."""

    lang: str
    name: str
    data: MappingNode
    body: Body


def _take_apart(source: Source, html: bool) -> tuple[tuple[MappingNode, Body, int] | None, tuple[Problem, ...]]:
    """Front matter, body, the line that the body begins in; and what is wrong with them."""
    problems = Problems()
    front: FrontMatter | None = split_front_matter(source, problems)
    if front is None:
        return None, tuple(problems)
    body = parse_body(front.body, front.body_line, source.name, problems, html)
    return (front.data, body, front.body_line), tuple(problems)


@dataclass(frozen=True, slots=True)
class _Texts:
    """Where texts are read from; names are in order."""

    root: Path
    names: tuple[str, ...]
    settings: Settings
    problems: Problems

    def open(self, name: str, lang: str) -> _File | None:
        """One file's front matter and body; None once its fault is reported."""
        source = read_source(self.root, name, self.problems)
        if source is None:
            return None
        found, told = _take_apart(source, self.settings.html_in_texts == ALLOWED_HTML)
        self.problems.extend(told)
        if found is None:
            return None
        data, body, body_line = found
        if not data.entries and body_line == 1:
            hint = "begin the file with a line ---, then a line such as  title: Three jackets, then a line ---"
            self.problems.error(
                "no-front-matter", data.place, "this text says nothing about itself, not even its title", hint
            )
            return None
        return _File(lang, name, data, body)

    def files(self, names: list[str], what: str) -> Iterator[_File]:
        """The files of one text in the order of the editions; undeclared editions are reported."""
        tags = self.settings.tags
        by_tag: dict[str, str] = {}
        for name in names:
            tag = stem_of(name) if name.count("/") == 2 or name.startswith("about/") else tags[0]
            if by_tag.setdefault(tag, name) != name:
                message = f"{what} has a second text in {tag}: {by_tag[tag]}"
                self.problems.error("text-twice", Place(name, 1, 1), message, "keep one of the two files")
        for tag, name in by_tag.items():
            if tag not in tags:
                self._undeclared(name, tag)
        if tags[0] not in by_tag:
            place = Place(names[0], 1, 1)
            message = f"{what} has no text in the lead language {tags[0]}"
            folder = names[0].rpartition("/")[0]
            self.problems.error(
                "no-lead-text", place, message, f"write {folder}/{tags[0]}.md; the others are its translations"
            )
        for tag in tags:
            file = self.open(by_tag[tag], tag) if tag in by_tag else None
            if file is not None:
                yield file

    def _undeclared(self, name: str, tag: str) -> None:
        tags = self.settings.tags
        near = nearest(tag, tags)
        hint = (
            f"did you mean {near}.md?"
            if near
            else f"declared: {', '.join(tags)}; add it to `editions` in publication.yaml"
        )
        message = f"{quoted(tag)} is no edition of this publication"
        self.problems.error("edition-undeclared", Place(name, 1, 1), message, hint)


def _take_head(cls: type[H], file: _File, what: str, problems: Problems, also: tuple[str, ...] = ()) -> Text | None:
    values = take_values(cls, file.data, problems, what, also)
    if values is None:
        return None
    slug = file.data.get("slug")
    head = cls(**values, place=file.data.place, slug_place=slug.place if slug else file.data.place)
    return Text(lang=file.lang, head=head, body=file.body, file=file.name)


def _need_date(text: Text, what: str, problems: Problems) -> None:
    if text.head.date is None:
        hint = "add a line such as  date: 2026-10-04"
        problems.error("missing-key", text.head.place, f"{what} needs `date`: the day it was published", hint)


def text_folders(kind: str, names: Iterable[str]) -> dict[str, list[str]]:
    """The Markdown files among `names` below reviews/ or guides/ (`kind`), by the id of what they belong to."""
    found: dict[str, list[str]] = {}
    for name in names:
        if name.startswith(f"{kind}/") and name.endswith(".md") and name.count("/") < 3:
            found.setdefault(name.split("/")[1].removesuffix(".md"), []).append(name)
    return found


def take_review(
    root: Path,
    names: tuple[str, ...],
    settings: Settings,
    protocols: Mapping[str, Protocol],
    id: str,
    problems: Problems,
) -> "tuple[Review | None, Short | None]":
    """What the files of one review (among `names`) hold, and what its short form implies where it has one."""
    shelf = _Texts(root, names, settings, problems)
    paths = text_folders("reviews", names)[id]
    if not _good_id(id, paths[0], problems):
        return None, None
    review, short = None, None
    files = list(shelf.files(paths, f"the review {quoted(id)}"))
    heads = (_take_head(ReviewHead, file, "a review", problems, _FACT_KEYS) for file in files)
    texts = tuple(text for text in heads if text is not None)
    sheets = [node for node in (_shared_data(shelf, id), *(file.data for file in files)) if node is not None]
    place = Place(files[0].name if files else paths[0], 1, 1)
    if any(sheet.get("measured") is not None or sheet.get("sample") is not None for sheet in sheets):
        from sitegen.records.texts.short_form import take_short

        short = take_short(id, sheets, [text.head for text in texts], protocols, problems)
        if short is not None and texts:
            shared, _ = _shared_facts(sheets, ("first_published",), problems)
            own = ReviewFacts(product=Ref(id, place), round=Ref(short.round.id, place), place=place, **shared)
            review = Review(id=id, texts=texts, facts=own, short=True, place=place)
    else:
        sound = not problems.has_errors  # a fault above may be the very reason that there is no product
        found = _merge_facts(id, sheets, place, problems, sound)
        if found is not None and texts:
            review = Review(id=id, texts=texts, facts=found, place=place)
    if texts and texts[0].lang == settings.lead:
        _need_date(texts[0], "a review", problems)
    if review is not None and (first := review.facts.first_published) is not None:
        check_first_published(first, settings.tags, problems)
    return review, short if review is not None else None


def _good_id(id: str, name: str, problems: Problems) -> bool:
    return check_ident(id, "the name of a text", Place(name, 1, 1), problems)


def _shared_data(shelf: _Texts, id: str) -> MappingNode | None:
    name = f"reviews/{id}/data.yaml"
    if not among(shelf.names, name):
        return None
    source = read_source(shelf.root, name, shelf.problems)
    node = parse_yaml(source, shelf.problems) if source else None
    if node is None:
        return None
    if not isinstance(node, MappingNode):
        fail(node, "data.yaml", "a group of keys, one a line, each with a colon", shelf.problems, code="not-a-group")
        return None
    for entry in node.entries:
        if entry.key.text not in _FACT_KEYS:
            unknown_key(entry.key, _FACT_KEYS, shelf.problems, "the shared data of a review")
    return node


def _merge_facts(
    id: str, sheets: list[MappingNode], place: Place, problems: Problems, sound: bool
) -> ReviewFacts | None:
    """One set of facts; `sound` is False where a fault above may be the reason that no product is named."""
    found, merged = _shared_facts(sheets, _SHARED, problems)
    if sound and merged and "product" not in found:
        hint = "name it (product: its id), or measure in the text itself (measured: …, sample: …)"
        problems.error("review-product", place, f"the review {quoted(id)} names no product", hint)
        return None
    return ReviewFacts(**found, place=place) if "product" in found else None


def _shared_facts(sheets: list[MappingNode], keys: tuple[str, ...], problems: Problems) -> tuple[dict[str, Any], bool]:
    """The facts under some keys; the same fact given twice with different values names both places."""
    found: dict[str, Any] = {}
    sound = True
    for sheet in sheets:
        part = MappingNode(tuple(e for e in sheet.entries if e.key.text in keys), sheet.place)
        values = take_values(ReviewFacts, part, problems, "a review")
        sound = sound and values is not None
        for key, fact in (values or {}).items():
            first = found.setdefault(key, fact)
            if first != fact:
                message = f"`{key}` differs from what stands in {first.place}"
                if isinstance(fact, Ref):
                    message = f"`{key}` is {quoted(fact.id)} here and {quoted(first.id)} in {first.place}"
                problems.error("fact-twice", fact.place, message, "a fact stands in one place: keep one of them")
                sound = False
    return found, sound


def take_guide(root: Path, names: tuple[str, ...], settings: Settings, id: str, problems: Problems) -> Guide | None:
    """The guide with an id, from its files among `names`."""
    shelf, paths = _Texts(root, names, settings, problems), text_folders("guides", names)[id]
    guide = _read_guide(shelf, id, paths, f"the guide {quoted(id)}") if _good_id(id, paths[0], problems) else None
    if guide is not None:
        _need_date(guide.texts[0], "a guide", problems)
    return guide


def take_about(root: Path, names: tuple[str, ...], settings: Settings, problems: Problems) -> Guide | None:
    """The page about the publication, where there is one."""
    paths = [name for name in names if name.startswith("about/") and name.endswith(".md") and name.count("/") == 1]
    shelf = _Texts(root, names, settings, problems)
    return _read_guide(shelf, "about", paths, "the page about the publication") if paths else None


def _read_guide(shelf: _Texts, id: str, paths: list[str], what: str) -> Guide | None:
    files = list(shelf.files(paths, what))
    heads = (
        _take_head(TextHead, file, "a page about the publication" if id == "about" else "a guide", shelf.problems)
        for file in files
    )
    texts = tuple(text for text in heads if text is not None)
    return Guide(id=id, texts=texts, place=Place(texts[0].file, 1, 1)) if texts else None
