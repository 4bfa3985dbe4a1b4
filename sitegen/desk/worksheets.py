"""Worksheets on the disk: written for a translator, taken back into the publication; the memory as a file."""

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from sitegen.desk.editions_record import write_record
from sitegen.desk.text_shelf import Opened, Shelf, TextFiles, WrongUse
from sitegen.desk.write_source import ChangedMeanwhile, InTheWay, create_file, edit_file
from sitegen.editions.following.freshness import pairs
from sitegen.editions.following.record import caught_up, whole
from sitegen.editions.worksheets.apply import Taken, edits_for, take_sheet, translated_copy
from sitegen.editions.worksheets.edits import LineEdit
from sitegen.editions.worksheets.memory import Memory, Remembered, remember
from sitegen.editions.worksheets.po import po_text, read_po
from sitegen.editions.worksheets.tmx import tmx_text
from sitegen.editions.worksheets.worksheet import ReturnedSheet, Worksheet, make_worksheet
from sitegen.editions.worksheets.xliff import xliff_text
from sitegen.editions.worksheets.xliff_read import read_xliff
from sitegen.place import Place
from sitegen.problems import Problems, nearest, quoted
from sitegen.text.source import stands_inside

READERS = {".po": read_po, ".xlf": read_xliff, ".xliff": read_xliff}
LARGEST = 32 * 1024 * 1024


def memory_of(shelf: Shelf) -> Memory:
    """Every paragraph of the publication whose translation is in step or was never recorded."""
    found: list[Remembered] = []
    for text in shelf.texts:
        for lang in shelf.editions:
            lead, own = shelf.open(text.lead_file), shelf.open(text.files[lang]) if lang in text.files else None
            if lead and own:
                found += remember(text.name, lang, pairs(lead.parts, own.parts, shelf.follows(own.source.name)))
    return Memory(found)


def sheet_of(shelf: Shelf, text: TextFiles, lang: str, memory: Memory) -> Worksheet | None:
    """The worksheet of a text in one language, None where a file of it can't be read."""
    lead = shelf.open(text.lead_file)
    own = shelf.open(text.files[lang]) if lang in text.files else None
    if lead is None or (own is None and lang in text.files):
        return None
    return make_worksheet(
        text=text.name,
        lead=shelf.lead,
        lang=lang,
        lead_file=text.lead_file,
        file=text.file(lang),
        lead_parts=lead.parts,
        own_parts=own.parts if own else (),
        follows=shelf.follows(text.file(lang)),
        memory=memory,
    )


def export_sheets(shelf: Shelf, chosen: Sequence[TextFiles], to: Path) -> Iterator[str]:
    """A PO and an XLIFF file for each text and language below a folder; nothing that stands there is written over."""
    _outside(shelf, to)
    memory = memory_of(shelf)
    counted = new = 0
    for text in chosen:
        for lang in shelf.editions:
            sheet = sheet_of(shelf, text, lang, memory)
            if sheet is not None:
                counted += 2
                new += _put(to / f"{text.name}/{lang}.po", po_text(sheet).encode())
                new += _put(to / f"{text.name}/{lang}.xlf", xliff_text(sheet).encode())
    yield f"{counted} worksheets in {to}, {new} of them new"


def export_memory(shelf: Shelf, file: Path) -> Iterator[str]:
    """The translation memory as TMX."""
    _outside(shelf, file)
    memory = memory_of(shelf)
    _put(file, tmx_text(memory.remembered, shelf.lead).encode())
    yield f"{len(memory.remembered)} paragraphs written to {file}"


def _outside(shelf: Shelf, to: Path) -> None:
    if Path(os.path.realpath(to)).is_relative_to(os.path.realpath(shelf.root)):
        raise WrongUse(f"'{to}' lies in the publication's own folder; choose one beside it")


def _put(path: Path, data: bytes) -> bool:
    """Make a file; whether it had to be made. One that says something else may be somebody's work, and stays."""
    if path.is_file() and path.read_bytes() == data:
        return False
    try:
        create_file(path.parent, path.name, data)
    except InTheWay:
        raise WrongUse(
            f"'{path}' is there already and says something else; move it away, or choose another place"
        ) from None
    return True


def import_sheets(shelf: Shelf, where: Path) -> Iterator[str]:
    """Take worksheets back, each whole or not at all. A worksheet in which nothing was done changes nothing."""
    files = (
        [where]
        if where.is_file()
        else sorted(path for path in where.rglob("*") if path.suffix in READERS and path.is_file())
    )
    if not files:
        raise WrongUse(f"there is no worksheet in '{where}': they end in .po, .xlf or .xliff")
    taken = [line for path in files for line in _import_one(shelf, path)]
    yield from taken
    if not taken:
        yield f"nothing to take in {len(files)} worksheet{'' if len(files) == 1 else 's'}"


def _import_one(shelf: Shelf, path: Path) -> Iterator[str]:
    name = os.path.realpath(path)
    told = Problems()
    sheet = _read(path, name, told)
    if sheet is not None:
        text = _text_of(shelf, sheet, told)
        if text is not None:
            done = _take(shelf, sheet, text, told)
            if done:
                yield done
    shelf.problems.extend(told)


def _read(path: Path, name: str, problems: Problems) -> ReturnedSheet | None:
    reader = READERS.get(path.suffix)
    if reader is None:
        raise WrongUse(f"'{path}' is no worksheet: they end in .po, .xlf or .xliff")
    if path.stat().st_size > LARGEST:
        problems.error(
            "worksheet-form", Place(name, 1, 1), f"expected at most {LARGEST // 2**20} MiB, found a larger file"
        )
        return None
    return reader(path.read_bytes(), name, problems)


def _text_of(shelf: Shelf, sheet: ReturnedSheet, problems: Problems) -> TextFiles | None:
    """The text that a worksheet is of; its languages must be the publication's."""
    place = Place(sheet.name, 1, 1)
    by_name = {text.name: text for text in shelf.texts}
    if sheet.text not in by_name:
        near = nearest(sheet.text, by_name)
        problems.error(
            "worksheet-text",
            place,
            f"the publication has no text {quoted(sheet.text)}",
            f"did you mean {near}?" if near else "",
        )
    elif sheet.lead != shelf.lead:
        message = f"this worksheet translates from {quoted(sheet.lead)}, the lead language is {shelf.lead}"
        problems.error("worksheet-language", place, message, "export a new worksheet")
    elif sheet.lang not in shelf.editions:
        declared = ", ".join(shelf.editions) or "none"
        message = f"{quoted(sheet.lang)} is no edition of this publication to translate into"
        problems.error("worksheet-language", place, message, f"declared: {declared}")
    else:
        return by_name[sheet.text]
    return None


def _take(shelf: Shelf, sheet: ReturnedSheet, text: TextFiles, problems: Problems) -> str:
    """Put a worksheet's translations into their file; a line that says what was done."""
    fresh = Shelf(
        shelf.root, shelf.names, shelf.lead, shelf.editions, problems
    )  # another worksheet may just have changed the file
    lead = fresh.open(text.lead_file)
    file = text.file(sheet.lang)
    exists = stands_inside(shelf.root, file)
    own = fresh.open(file) if exists else None
    if lead is None or (exists and own is None):
        return ""
    follows = fresh.follows(file)
    taken = take_sheet(sheet, lead.parts, own.parts if own else (), follows, problems)
    if problems.has_errors or not taken.followed:
        return ""
    try:
        count = (
            _write_new(fresh, sheet, text, lead, taken) if own is None else _write_into(fresh, sheet, lead, own, taken)
        )
    except (ChangedMeanwhile, InTheWay) as fault:
        message = f"{fault} was changed at this very moment by another program"
        problems.error("translation-changed", Place(sheet.name, 1, 1), message, "nothing was taken; import once more")
        return ""
    left = f", {taken.left} left open" if taken.left else ""
    return f"{file}: {count} taken{left}" if count >= 0 else ""


def _write_into(shelf: Shelf, sheet: ReturnedSheet, lead: Opened, own: Opened, taken: Taken) -> int:
    follows = shelf.follows(own.source.name)
    edits: tuple[LineEdit, ...] | None = ()
    if taken.new:
        edits = edits_for(
            own.source, lead.parts, own.parts, follows, taken.new, Place(sheet.name, 1, 1), shelf.problems
        )
    if edits is None:
        return -1
    edit_file(shelf.root, own.source.name, own.source.digest, edits)
    again = Shelf(shelf.root, shelf.names, shelf.lead, shelf.editions, shelf.problems)
    now = again.open(own.source.name)
    if now is not None:
        lines = caught_up(lead.parts, now.parts, follows, taken.followed) if follows else None
        if follows is None and taken.left == 0 and {part.key for part in lead.parts} <= taken.followed:
            lines = whole(lead.parts, now.parts)
        if lines is not None:
            write_record(again, lead, now, lines)
    return len(taken.followed)


def _write_new(shelf: Shelf, sheet: ReturnedSheet, text: TextFiles, lead: Opened, taken: Taken) -> int:
    """A whole new translation, laid out as the lead is; a part of one would be no text."""
    place = Place(sheet.name, 1, 1)
    open_keys = [part.key for part in lead.parts if part.key not in taken.new]
    if open_keys:
        number = f"{len(open_keys)} of its {len(lead.parts)} paragraphs"
        message = f"{text.file(sheet.lang)} would be new, and {number} are not translated yet ({open_keys[0]} …)"
        shelf.problems.caution("worksheet-open", place, message, "nothing was taken; finish the worksheet first")
        return -1
    copy = translated_copy(lead.source, lead.parts, taken.new)
    if copy is None:
        message = f"{text.lead_file} is laid out so that no translation can be made from it by itself"
        shelf.problems.error(
            "worksheet-place",
            place,
            message,
            f"write {text.file(sheet.lang)} by hand, with the lead's paragraphs, and export anew",
        )
        return -1
    create_file(shelf.root, text.file(sheet.lang), copy.encode())
    now = Shelf(shelf.root, (*shelf.names, text.file(sheet.lang)), shelf.lead, shelf.editions, shelf.problems).open(
        text.file(sheet.lang)
    )
    lines = whole(lead.parts, now.parts) if now else None
    if now and lines:
        write_record(shelf, lead, now, lines)
    return len(taken.new)
