"""Which messages the project uses, and keeping the catalogues in step: a tool for developers.

`python -m sitegen.figures.forms.extract` says for each catalogue what is missing, unused, fuzzy or ill-filled.
`--add` writes the missing ones into the catalogues (in English as they are, elsewhere untranslated);
`--prune` takes the unused ones out. Exit 0 when nothing is left to do, else 1.

Found are calls whose first argument is a literal text: in Python `.text("…")`, `.text_in("context", "…")`,
`.plural("…", "…", n)`, `msgid("…")` and `plural_msgid("…", "…")`; in Python and in templates `t("…")`, `tc("context", "…")` and
`tn("…", "…", n)`.
"""

import ast
import re
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from string import Formatter

from babel.messages.extract import extract_from_file

from sitegen.datatypes import dataclass
from sitegen.figures.forms.catalogue import CONTEXT_MARK, SOURCE_LANGUAGE, Catalogue, catalogue_file, read_catalogue

__all__ = ["Message", "catalogue_faults", "placeholders", "used_messages"]

PROJECT = Path(__file__).resolve().parents[3]

# What Babel takes for each name of a call: the arguments that are messages, `(1, "c")` for a context.
_Keywords = dict[str, tuple[int | tuple[int, int] | tuple[int, str], ...]]
_IN_TEMPLATES: _Keywords = {"t": (1,), "tn": (1, 2), "tc": ((1, "c"), 2)}

# For each name of a call in Python what its first arguments are. Babel's own reader of Python passes over
# f-strings and loses arguments where calls stand within a call, so modules are read by their syntax tree.
_IN_PYTHON = {
    "t": ("singular",), "text": ("singular",), "msgid": ("singular",),
    "tn": ("singular", "plural"), "plural": ("singular", "plural"),
    "plural_msgid": ("singular", "plural"),
    "tc": ("context", "singular"), "text_in": ("context", "singular"),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Message:
    """A message as it is used: its English, its English plural and its context, where it has them."""

    singular: str
    plural: str = ""
    context: str = ""

    @property
    def key(self) -> str:
        return f"{self.context}{CONTEXT_MARK}{self.singular}" if self.context else self.singular


def used_messages(code: Path, themes: Path) -> dict[Message, str]:
    """The messages in use in modules below `code` and templates below `themes`, each with its first place."""
    found: dict[Message, str] = {}
    for root, pattern, read in (
        (code, "*.py", _in_module),
        (themes, "*.html", _in_template),
        (themes, "*.xml", _in_template),
    ):
        for path in sorted(root.rglob(pattern)):
            for message, line in read(path):
                found.setdefault(message, f"{path}:{line}")
    return found


def _in_module(path: Path) -> Iterator[tuple[Message, int]]:
    calls = (node for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Call))
    for call in sorted(calls, key=lambda call: (call.lineno, call.col_offset)):
        name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
        places = _IN_PYTHON.get(name, ())
        said = {
            place: given.value
            for place, given in zip(places, call.args, strict=False)
            if isinstance(given, ast.Constant)
        }
        texts = {place: text for place, text in said.items() if isinstance(text, str)}
        # A record's words are asked for by `.text("en", …)` too: a language tag is no message.
        if places and len(texts) == len(places) and texts["singular"] not in ("", SOURCE_LANGUAGE):
            yield Message(**texts), call.lineno


def _in_template(path: Path) -> Iterator[tuple[Message, int]]:
    options = {"silent": "false"}
    for line, said, _, context in extract_from_file(
        "jinja2.ext:babel_extract", path, keywords=_IN_TEMPLATES, options=options
    ):
        texts = (said,) if isinstance(said, str) else tuple(said)
        if texts[0]:
            yield Message(singular=texts[0], plural="".join(texts[1:2]), context=context or ""), line


def placeholders(text: str) -> frozenset[str]:
    """The names in braces of a message. Raises `ValueError` for braces that don't pair."""
    return frozenset(name for _, name, _, _ in Formatter().parse(text) if name is not None)


def catalogue_faults(catalogue: Catalogue, used: Iterable[Message]) -> tuple[str, ...]:
    """What is wrong with one catalogue against the messages in use, each in a line of its own.

    Missing, unused, untranslated or fuzzy, of the wrong kind (with or without a plural), or with other
    placeholders than its English; a plural form may leave out `{n}`.
    """
    wanted = {message.key: message for message in used}
    kept = catalogue.messages.keys() | catalogue.plurals.keys() | catalogue.open_messages
    faults = [f"missing: {_shown(key)}" for key in wanted.keys() - kept]
    faults += [f"unused: {_shown(key)}" for key in kept - wanted.keys()]
    faults += [f"untranslated or fuzzy: {_shown(key)}" for key in catalogue.open_messages]
    for key, message in wanted.items():
        if key in (catalogue.messages if message.plural else catalogue.plurals):
            faults.append(f"of the wrong kind, singular against plural: {_shown(key)}")
    faults += [f"other placeholders: {_shown(key)}" for key in _ill_filled(catalogue)]
    faults += [f"not {catalogue.form_count} plural forms: {_shown(key)}" for key in _ill_counted(catalogue)]
    return tuple(sorted(faults))


def _shown(key: str) -> str:
    return key.replace(CONTEXT_MARK, " | ")


def _ill_counted(catalogue: Catalogue) -> Iterator[str]:
    """Plurals with more or fewer forms than the catalogue's header speaks of."""
    return (key for key, forms in catalogue.plurals.items() if len(forms) != catalogue.form_count)


def _ill_filled(catalogue: Catalogue) -> Iterator[str]:
    for key, text in catalogue.messages.items():
        if placeholders(text) != placeholders(key.rpartition(CONTEXT_MARK)[2]):
            yield key
    for key, forms in catalogue.plurals.items():
        wanted = placeholders(key.rpartition(CONTEXT_MARK)[2]) | {"n"}
        if any(placeholders(form) | {"n"} != wanted for form in forms):
            yield key


def with_added(text: str, messages: Iterable[Message], *, translated: bool, forms: int = 2) -> str:
    """The text of a catalogue with entries appended; `translated`: the English is its own translation.

    `forms` is how many forms a plural has.
    """
    for message in sorted(messages):
        flag = "#, python-brace-format\n" if "{" in message.singular + message.plural else ""
        context = f"msgctxt {_quoted(message.context)}\n" if message.context else ""
        said = _quoted(message.singular if translated else "")
        if message.plural:
            many = _quoted(message.plural if translated else "")
            rest = f"msgid_plural {_quoted(message.plural)}\nmsgstr[0] {said}\n"
            rest += "".join(f"msgstr[{number}] {many}\n" for number in range(1, forms))
        else:
            rest = f"msgstr {said}\n"
        text += f"\n{flag}{context}msgid {_quoted(message.singular)}\n{rest}"
    return text


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def pruned(text: str, unused: Iterable[str]) -> str:
    """The text of a catalogue without the entries of these keys. Entries are parted by empty lines."""
    gone = {_head_of_entry(key) for key in unused}
    kept, heading = [], ""
    for block in text.rstrip("\n").split("\n\n"):
        titles = [line for line in block.splitlines() if line.startswith("# ")]
        if "\n".join(re.findall(r"^msg(?:ctxt|id) .*$", block, re.MULTILINE)) in gone:
            heading = titles[0] if titles else heading
            continue
        # The title of a section stands on its first entry and moves on when that entry goes.
        kept.append(f"{heading}\n{block}" if heading and not titles else block)
        heading = ""
    return "\n\n".join(kept) + "\n"


def _head_of_entry(key: str) -> str:
    context, mark, singular = key.rpartition(CONTEXT_MARK)
    return (f"msgctxt {_quoted(context)}\n" if mark else "") + f"msgid {_quoted(singular)}"


def _mend(path: Path, catalogue: Catalogue, used: Iterable[Message], *, add: bool, prune: bool) -> Catalogue:
    text = path.read_text("utf-8")
    kept = catalogue.messages.keys() | catalogue.plurals.keys() | catalogue.open_messages
    wanted = {message.key: message for message in used}
    if prune:
        text = pruned(text, kept - wanted.keys())
    if add:
        new = (message for key, message in wanted.items() if key not in kept)
        text = with_added(text, new, translated=catalogue.tag == SOURCE_LANGUAGE, forms=catalogue.form_count)
    path.write_text(text, "utf-8")
    return read_catalogue(path, catalogue.tag)


def main(arguments: list[str], project: Path = PROJECT) -> int:
    """Compare the catalogues of a project with its messages, and mend them if told so."""
    used = used_messages(project / "sitegen", project / "themes")
    folder, left = project / "content" / "catalogues", 0
    for tag in sorted(path.name.replace("_", "-") for path in folder.iterdir() if path.is_dir()):
        path = catalogue_file(folder, tag)
        catalogue = read_catalogue(path, tag)
        if "--add" in arguments or "--prune" in arguments:
            catalogue = _mend(path, catalogue, used, add="--add" in arguments, prune="--prune" in arguments)
        faults = catalogue_faults(catalogue, used)
        left += len(faults)
        sys.stdout.writelines(f"{tag}: {fault}\n" for fault in faults)
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
