"""Worksheets as gettext PO files (GNU gettext manual, "PO Files"): one message a paragraph.

The message context carries the part and the marks of both texts. A translation of an older text of the lead, and
one offered from the memory, are marked fuzzy: gettext's word for "look at this before it counts".
"""

import re
from collections.abc import Iterator
from io import BytesIO

from sitegen.editions.worksheets.worksheet import Returned, ReturnedSheet, Unit, Worksheet, parse_name
from sitegen.place import Place
from sitegen.problems import Problems

_INTRO = (
    "# Translate each msgid into msgstr. Leave {…}, `code` and the addresses of links as they are.\n"
    "# An entry marked fuzzy is left out until the mark is removed.\n"
)
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
_LINES = re.compile(r"[^\n]*\n|[^\n]+")
_SPECIAL = re.compile(r'[\\"\n\t\r]')


def po_text(sheet: Worksheet) -> str:
    """The PO file of a worksheet."""
    from babel.messages.plurals import get_plural

    plural = get_plural(sheet.lang.replace("-", "_"))
    fields = [
        ("Project-Id-Version", sheet.text), ("Language", sheet.lang.replace("-", "_")), ("MIME-Version", "1.0"),
        ("Content-Type", "text/plain; charset=UTF-8"),
        ("Content-Transfer-Encoding", "8bit"), ("Plural-Forms", f"nplurals={plural.num_plurals}; plural={plural.plural_expr};"),
        ("X-Lead-Language", sheet.lead), ("X-Lead-File", sheet.lead_file),
    ]  # fmt: skip
    header = "".join(f"{name}: {value}\n" for name, value in fields)
    return _INTRO + "\n".join([f'msgid ""\n{_field("msgstr", header)}\n', *map(_entry, sheet.units)])


def _entry(unit: Unit) -> str:
    offered = (
        unit.suggestions[0] if unit.suggestions and not unit.target and unit.suggestions[0].likeness == 1 else None
    )
    lines = [f"# {_one_line(text)}" for text in _offers(unit)]
    lines += [f"#. {_one_line(note)}" for note in unit.notes]
    lines += [f"#: {unit.place.replace(' ', '_')}"]
    lines += ["#, fuzzy"] if unit.stale or offered else []
    target = offered.remembered.target if offered else unit.target
    lines += [_field("msgctxt", unit.name), _field("msgid", unit.source), _field("msgstr", target)]
    return "\n".join(lines) + "\n"


def _offers(unit: Unit) -> Iterator[str]:
    for offer in unit.suggestions:
        one = offer.remembered
        yield f"An earlier paragraph, {offer.likeness:.0%} alike ({one.where}): {one.source}"
        yield f"was translated: {one.target}"


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _field(name: str, text: str) -> str:
    """A keyword with its text: one string, or one a line below an empty one."""
    escaped = [_quoted(line) for line in _LINES.findall(text)] or ['""']
    return f"{name} " + ("\n".join(['""', *escaped]) if len(escaped) > 1 else escaped[0])


def _quoted(text: str) -> str:
    return '"' + _SPECIAL.sub(lambda found: _ESCAPES[found[0]], text) + '"'


def read_po(data: bytes, name: str, problems: Problems) -> ReturnedSheet | None:
    """A PO file that came back, None once its fault is reported."""
    from babel.messages.pofile import PoFileError
    from babel.messages.pofile import read_po as read

    try:
        catalog = read(BytesIO(data), abort_invalid=True, charset="utf-8")
    except PoFileError as fault:
        problems.error(
            "worksheet-form",
            Place(name, max(1, fault.lineno + 1), 1),
            f"this is no sound PO file: {fault.args[0]}",
            "export it anew",
        )
        return None
    except (ValueError, LookupError, IndexError, UnicodeError) as fault:
        problems.error("worksheet-form", Place(name, 1, 1), f"this is no sound PO file: {fault}", "export it anew")
        return None
    header = {key.lower(): value for key, value in _header(data)}
    if "x-lead-language" not in header or "project-id-version" not in header:
        fault_here = "this is no sound PO file of a worksheet: its header is gone or has lost fields"
        problems.error("worksheet-form", Place(name, 1, 1), fault_here, "export it anew")
        return None
    text = header["project-id-version"]
    units = []
    for message in catalog:
        if not message.id:
            continue
        line = max(1, message.lineno or 1)
        named = parse_name(message.context or "")
        if named is None:
            problems.error(
                "worksheet-unit",
                Place(name, line, 1),
                "this entry has no msgctxt with its part and its marks",
                "export it anew",
            )
            return None
        source, target = (value if isinstance(value, str) else value[0] for value in (message.id, message.string or ""))
        done = bool(target) and not message.fuzzy
        units.append(
            Returned(
                key=named[0], lead_mark=named[1], own_mark=named[2], source=source, target=target, done=done, line=line
            )
        )
    lang = header.get("language", "").replace("_", "-")
    return ReturnedSheet(name=name, text=text, lead=header["x-lead-language"], lang=lang, units=tuple(units))


def _header(data: bytes) -> Iterator[tuple[str, str]]:
    """The header's fields; the library that reads the entries keeps only those it knows."""
    for line in data.decode("utf-8", "replace").splitlines():
        found = re.fullmatch(r'(?:msgstr )?"([A-Za-z-]+): (.*?)\\n"', line.strip())
        if found:
            yield found[1], found[2]
        elif line.startswith("msgctxt"):
            return
