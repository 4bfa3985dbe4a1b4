"""Text with values put in: every `{…}` comes out in the edition's form, or is reported at its place."""

import re
from collections.abc import Iterable
from dataclasses import replace

from sitegen.figures.answers.values import UnknownValue, Values
from sitegen.figures.forms.typography import keep_units
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.records.fields.kinds import Prose
from sitegen.text.value_grammar import MEANT, VALUE_OR_BRACE, tidy_path

UNRESOLVED = "[\u2026]"  # stands where a value was named that there isn't; the build has stopped by then


def fill_prose(prose: Prose, values: Values, problems: Problems) -> str:
    """A text of a front matter with its values; `\\{` is a brace, `{meant}` prints nothing."""
    if "{" not in prose.text:
        return keep_units(prose.text)

    def put(match: re.Match[str]) -> str:
        if match[1]:
            return match[1]
        if match[2].strip() == MEANT:
            return ""
        place = replace(prose.place, column=prose.place.column + match.start(), width=len(match[0]))
        return word_value(tidy_path(match[2]), values, place, problems)

    return VALUE_OR_BRACE.sub(put, keep_units(prose.text))


def fill_all(texts: Iterable[Prose], values: Values, problems: Problems) -> tuple[str, ...]:
    """Several texts with their values."""
    return tuple(fill_prose(text, values, problems) for text in texts)


def word_value(path: str, values: Values, place: Place, problems: Problems) -> str:
    """One value by its path; a mark in its place once the fault is reported."""
    try:
        return values.word(path)
    except UnknownValue as unknown:
        problems.error("value-unknown", place, f"{quoted('{' + path + '}')}: {unknown}", unknown.hint)
        return UNRESOLVED
