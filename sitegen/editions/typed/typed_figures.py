"""Figures typed by hand, held against the readings and against the other editions.

Every caution names both places. What is read is told in `figure_reader`, what counts as equal in `parity`, which
sentences are held against the readings in `against_data`. `412 g{meant}` says that a figure is meant as it stands: the
mark prints nothing, and the figure is left alone in both comparisons.
"""

from collections.abc import Mapping

from sitegen.datatypes import dataclass
from sitegen.editions.following.pairing import fewest_faults
from sitegen.editions.following.parity import Difference, compare_figures
from sitegen.editions.following.parts import Part, parts_of
from sitegen.editions.typed.against_data import Bench, Subject
from sitegen.editions.typed.figure_reader import Typed, read_figures, stray_marks
from sitegen.editions.typed.notation import Notation, notation_of
from sitegen.problems import Problems, quoted
from sitegen.records.texts.text_files import Guide, Review
from sitegen.records.texts.texts import Text

HINT = "write {what}{{meant}} where the difference is meant"


@dataclass(frozen=True, slots=True)
class _Read:
    """A text with the figures of each of its parts."""

    text: Text
    notation: Notation
    parts: tuple[Part, ...]
    figures: Mapping[str, tuple[Typed, ...]]

    def of(self, part: Part) -> tuple[Typed, ...]:
        """The figures of one part."""
        return self.figures.get(part.key, ())


def check_text(holder: Guide, bench: Bench, problems: Problems) -> None:
    """Cautions for typed figures of one text that contradict the readings, or that differ between two of its editions."""
    named = holder.facts.product.id if isinstance(holder, Review) and holder.facts.product else ""
    product = named if named in bench.publication.products else ""
    read = [_read(text) for text in holder.texts]
    for one in read:
        subject = Subject(one.text.lang, one.notation.language, product)
        for part in one.parts:
            for place in stray_marks(part, one.of(part)):
                hint = "put it right after a number with its unit, as in 412 g{meant}"
                problems.caution("meant-nothing", place, "`{meant}` follows no figure that could be compared", hint)
            bench.check(part, one.of(part), subject, problems)
    for translation in read[1:]:
        _compare(read[0], translation, problems)


def _read(text: Text) -> _Read:
    notation = notation_of(text.lang)
    parts = parts_of(text)
    found = {part.key: figures for part in parts if (figures := read_figures(part, notation))}
    return _Read(text, notation, parts, found)


def _compare(lead: _Read, own: _Read, problems: Problems) -> None:
    """The figures of a translation beside the lead's."""
    languages = (lead.notation.language, own.notation.language)
    known: dict[tuple[str, str], tuple[Difference, ...]] = {}

    def differences(there: Part, here: Part) -> tuple[Difference, ...]:
        if not lead.of(there) and not own.of(here):
            return ()
        key = (there.key, here.key)
        if key not in known:
            known[key] = compare_figures(lead.of(there), own.of(here), there.text, here.text, languages)
        return known[key]

    for there, here in fewest_faults(lead.parts, own.parts, lambda a, b: len(differences(a, b))):
        for difference in differences(there, here):
            _report(difference, there, here, lead.text.lang, problems)


def _report(difference: Difference, there: Part, here: Part, lead: str, problems: Problems) -> None:
    theirs, ours = difference.there, difference.here
    if theirs and ours:
        message = (
            f"{quoted(ours.written)} here, but {quoted(theirs.written)} in the same paragraph in {lead}, {theirs.place}"
        )
        problems.caution("figure-differs", ours.place, message, HINT.format(what=ours.written))
    elif theirs:
        message = f"{quoted(theirs.written)} stands in the same paragraph in {lead}, {theirs.place}, but not here"
        hint = f"add it here, or write {theirs.written}{{meant}} there"
        problems.caution("figure-missing", here.place, message, hint)
    elif ours:
        message = f"{quoted(ours.written)} stands here, but not in the same paragraph in {lead}, {there.place}"
        values = " as a value {…}" if "{" in there.text else ""
        hint = f"see whether it stands there{values} or was taken out; write {ours.written}{{meant}} where it is meant"
        problems.caution("figure-missing", ours.place, message, hint)
