"""Recording which paragraphs of the lead the translations follow."""

from collections.abc import Iterator, Mapping, Sequence

from sitegen.desk.text_shelf import Opened, Shelf, TextFiles
from sitegen.desk.write_source import create_file, replace_file
from sitegen.editions.following.freshness import CHANGED, MOVED, NEW, Pair, check_even, compare
from sitegen.editions.following.record import Line, caught_up, whole
from sitegen.problems import Problems
from sitegen.records.texts.follows import Follows, follows_name, follows_text, take_follows
from sitegen.text.source import Source, read_source, stands_inside
from sitegen.text.yaml_nodes import parse_yaml


def record(shelf: Shelf, chosen: Sequence[TextFiles], named: bool) -> Iterator[str]:
    """Record translations as following the lead.

    Texts that were `named` are taken at their author's word, whole. Else those never recorded are, and of the others
    the paragraphs that were changed since the lead's were.
    """
    counted = 0
    for text in chosen:
        for lang in shelf.editions:
            behind = _record_one(shelf, text, lang, named) if lang in text.files else None
            if behind is not None:
                counted += 1
                paragraphs = f"{behind} paragraph{'s' * (behind != 1)}"
                yield f"recorded {follows_name(text.files[lang])}" + (f"; {paragraphs} still behind" if behind else "")
    yield f"{counted} recorded" if counted else "nothing to record"


def _record_one(shelf: Shelf, text: TextFiles, lang: str, named: bool) -> int | None:
    """Record one translation; how many of its paragraphs are still behind. None where nothing was recorded."""
    lead, own = shelf.open(text.lead_file), shelf.open(text.files[lang])
    if lead is None or own is None:
        return None
    follows = shelf.follows(text.files[lang])
    lines = whole(lead.parts, own.parts)
    if follows is not None and not named:
        changes = compare(lead.parts, own.parts, follows)
        if lines is None or not _has_caught_up(own, follows, changes):
            touched = {pair.lead.key for pair in changes if pair.lead and pair.touched}
            lines = caught_up(lead.parts, own.parts, follows, touched)
    elif lines is None:
        check_even(lead.parts, own.parts, None, told := Problems())
        for problem in told:
            shelf.problems.error(
                problem.code, problem.place, problem.message, f"it can't be recorded so: {problem.hint}"
            )
    if lines is None or not write_record(shelf, lead, own, lines):
        return None
    return len(_still_behind(shelf, lead, own, lines))


def _has_caught_up(own: Opened, follows: Follows, changes: Sequence[Pair]) -> bool:
    """Whether the translation changed wherever the lead did: a touched paragraph for each changed one, a new one for each new one."""
    known = {line.own for line in follows.parts}
    unknown = sum(part.mark not in known for part in own.parts)
    wanted = sum(pair.change in (CHANGED, NEW) for pair in changes)
    idle = any(pair.change == MOVED or (pair.change == CHANGED and not pair.touched) for pair in changes)
    return not idle and unknown >= wanted


def write_record(shelf: Shelf, lead: Opened, own: Opened, lines: Mapping[str, Line]) -> bool:
    """Write the file beside a translation, if it says anything new; whether it did."""
    name = follows_name(own.source.name)
    digests = (lead.source.digest, own.source.digest)
    text = follows_text(shelf.lead, digests, lines)
    told = Problems()
    as_read = read_source(shelf.root, name, told) if stands_inside(shelf.root, name) else None
    if _still_behind(shelf, lead, own, lines):  # only what is wholly in step is known by its bytes
        text = follows_text(shelf.lead, ("", ""), lines)
    if as_read is None and not len(told):
        create_file(shelf.root, name, text.encode())
    elif as_read is None:
        shelf.problems.extend(told)
        return False
    elif as_read.text != text:
        replace_file(shelf.root, name, as_read.digest, text.encode())
    return as_read is None or as_read.text != text


def _still_behind(shelf: Shelf, lead: Opened, own: Opened, lines: Mapping[str, Line]) -> Sequence[Pair]:
    """What of a translation is not in step once `lines` are its record."""
    text = follows_text(shelf.lead, ("", ""), lines)
    return compare(lead.parts, own.parts, _as_follows(text, follows_name(own.source.name)))


def _as_follows(text: str, name: str) -> Follows:
    """The record that a file's text will be read as."""
    node = parse_yaml(Source(name, text, ""), problems := Problems())
    follows = take_follows(node, problems) if node is not None else None
    assert follows is not None, "what is written can be read"
    return follows
