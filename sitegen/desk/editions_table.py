"""How the translations stand, for a terminal of 80 columns and for machines."""

from collections.abc import Iterator, Sequence
from typing import Any

from sitegen.desk.text_shelf import Shelf, Status
from sitegen.editions.following.freshness import BEHIND, CHANGED, GONE, MOVED, NEW, Pair
from sitegen.editions.following.parts import tidy
from sitegen.records.texts.follows import EXCERPT

WIDTH = 80
_CELL = 12  # the longest state is "unrecorded"
_SAYS = {
    CHANGED: "the lead has changed", NEW: "new in the lead", GONE: "gone from the lead", MOVED: "moved in the lead",
}  # fmt: skip


def table(shelf: Shelf, statuses: Sequence[Status]) -> Iterator[str]:
    """A row a text, a column a language; as many columns at a time as fit."""
    names = dict.fromkeys(status.text.name for status in statuses)
    cells = {(status.text.name, status.lang): _cell(status) for status in statuses}
    first = min(max([len(name) for name in names] or [4]), WIDTH - 2 * _CELL)
    fit = max(1, (WIDTH - first) // _CELL)
    for start in range(0, len(shelf.editions), fit):
        langs = shelf.editions[start : start + fit]
        yield (f"{'text':{first}}" + "".join(f"  {lang:{_CELL - 2}}" for lang in langs)).rstrip()
        for name in names:
            yield (
                f"{_fitted(name, first):{first}}" + "".join(f"  {cells[name, lang]:{_CELL - 2}}" for lang in langs)
            ).rstrip()
        yield ""
    yield _counts(statuses)


def _cell(status: Status) -> str:
    return f"behind {len(status.changes)}" if status.state == BEHIND else status.state


def _counts(statuses: Sequence[Status]) -> str:
    counted: dict[str, int] = {}
    for status in statuses:
        counted[status.state] = counted.get(status.state, 0) + 1
    return ", ".join(f"{number} {state}" for state, number in sorted(counted.items())) or "no texts"


def details(statuses: Sequence[Status]) -> Iterator[str]:
    """Each paragraph that is behind: where, what became of the lead's text, how it began and how it begins."""
    for status in statuses:
        for pair in status.changes:
            yield ""
            where = pair.here.place if pair.here else status.text.file(status.lang)
            yield f"{where}: {_SAYS[pair.change]}" + (f" ({pair.lead.place})" if pair.lead else "")
            if pair.change in (CHANGED, GONE):
                yield _fitted(f"  - {pair.before}", WIDTH)
            if pair.lead is not None:
                yield _fitted(f"  + {_changed_bit(pair)}", WIDTH)
            if pair.touched:
                yield "  the translation was changed too: if it follows, run  sitegen editions --record"


def _changed_bit(pair: Pair) -> str:
    """How the lead's paragraph begins now; where the kept beginning is the same, that it goes on otherwise."""
    now = tidy(pair.lead.text) if pair.lead else ""
    if pair.change == CHANGED and now.startswith(pair.before):
        return "… (it begins as before and goes on otherwise)"
    return now


def _fitted(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def as_json(shelf: Shelf, statuses: Sequence[Status]) -> dict[str, Any]:
    """The same for machines. `before` holds the first characters of the lead's text as it was recorded."""
    return {
        "lead": shelf.lead, "editions": list(shelf.editions), "excerpt_length": EXCERPT,
        "texts": [_status(status) for status in statuses],
    }  # fmt: skip


def _status(status: Status) -> dict[str, Any]:
    text = status.text
    return {
        "text": text.name, "kind": text.kind, "language": status.lang, "state": status.state, "lead_file": text.lead_file,
        "file": text.files.get(status.lang), "behind": [_pair(pair) for pair in status.changes],
    }  # fmt: skip


def _pair(pair: Pair) -> dict[str, Any]:
    return {
        "change": pair.change, "part": pair.lead.key if pair.lead else pair.then.part if pair.then else "", "before": pair.before,
        "lead": {"line": pair.lead.place.line, "text": pair.lead.text} if pair.lead else None,
        "translation": {"line": pair.here.place.line, "text": pair.here.text, "changed_too": pair.touched} if pair.here else None,
    }  # fmt: skip
