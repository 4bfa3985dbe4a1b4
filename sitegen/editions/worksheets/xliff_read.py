"""XLIFF 2.1 worksheets that came back, whatever tool they went through."""

from sitegen.datatypes import dataclass
from sitegen.editions.following.parts import mark
from sitegen.editions.worksheets.worksheet import Returned, ReturnedSheet, parse_name
from sitegen.editions.worksheets.xliff import CORE, VERSION
from sitegen.editions.worksheets.xml_tree import Element, read_xml
from sitegen.place import Place
from sitegen.problems import Problems, quoted

MOST_TEXT = 16 * 1024 * 1024  # characters of all units with their data put back: four texts of the largest size
_DONE = ("translated", "reviewed", "final")
_VERSIONS = (VERSION, "2.0")
_MARKS = ("mrk", "sm", "em")  # a tool's own annotations, which the text doesn't carry


def _core(name: str) -> str:
    return f"{{{CORE}}}{name}"


def read_xliff(data: bytes, name: str, problems: Problems) -> ReturnedSheet | None:
    """An XLIFF file that came back, None once its fault is reported."""
    root = read_xml(data, name, problems)
    if root is None:
        return None
    if root.name != _core("xliff") or root.attributes.get("version") not in _VERSIONS:
        found = f"{root.name.rpartition('}')[2]} of version {root.attributes.get('version', 'none')}"
        message = f"expected an XLIFF {VERSION} file (namespace {CORE}), found {quoted(found)}"
        problems.error(
            "worksheet-form", Place(name, root.line, 1), message, "other versions have another form; export it anew"
        )
        return None
    file = root.child(_core("file"))
    if file is None:
        problems.error("worksheet-form", Place(name, root.line, 1), "this XLIFF file holds no <file>", "export it anew")
        return None
    room = _Room(MOST_TEXT)
    units = []
    for unit in file.descendants(_core("unit")):
        units.append(_read_unit(unit, name, room, problems))
        if room.left < 0:
            message = f"expected at most {MOST_TEXT:,} characters with all placeholders put back, found more"
            problems.error("worksheet-form", Place(name, unit.line, 1), message, "export it anew")
            return None
    if any(unit is None for unit in units):
        return None
    return ReturnedSheet(
        name=name, text=file.attributes.get("original", ""), lead=root.attributes.get("srcLang", ""),
        lang=root.attributes.get("trgLang", ""), units=tuple(unit for unit in units if unit is not None),
    )  # fmt: skip


@dataclass(slots=True)
class _Room:
    """How many characters of text there may still be: what stands once in a unit may be put in at thousands of places."""

    left: int

    def taken(self, text: str) -> str:
        """The text, or nothing where there is no room left for it."""
        self.left -= len(text)
        return text if self.left >= 0 else ""


def _read_unit(unit: Element, name: str, room: _Room, problems: Problems) -> Returned | None:
    named = parse_name(unit.attributes.get("name", ""))
    if named is None:
        problems.error(
            "worksheet-unit",
            Place(name, unit.line, 1),
            "this unit has lost its name with its part and its marks",
            "export it anew",
        )
        return None
    data = {
        d.attributes.get("id", ""): _plain(d)
        for group in unit.children(_core("originalData"))
        for d in group.children(_core("data"))
    }
    reader = _Reader(data, _pairs(unit), room, name, problems)
    sources, targets, states, whole = [], [], [], True
    for piece in unit.content:  # a tool may divide a unit into segments, with what stands between them as <ignorable>
        if isinstance(piece, Element) and piece.name in (_core("segment"), _core("ignorable")):
            source, target = piece.child(_core("source")), piece.child(_core("target"))
            sources.append(reader.text(source) if source else "")
            is_between = piece.name == _core("ignorable")
            targets.append(reader.text(target) if target else sources[-1] if is_between else "")
            whole = whole and (is_between or bool(targets[-1]))
            states += [] if is_between else [piece.attributes.get("state", "initial")]
    target_text = "".join(targets)
    return Returned(
        key=named[0], lead_mark=named[1], own_mark=named[2], source="".join(sources), target=target_text,
        # A tool that edits a target need not raise its state: a changed one counts as done as well.
        done=whole and bool(states) and (all(state in _DONE for state in states) or mark(target_text) != named[2]), line=unit.line,
    )  # fmt: skip


def _pairs(unit: Element) -> dict[str, Element]:
    """The codes of a unit by id: where a target's code has lost its reference to its data, the source's has it."""
    found: dict[str, Element] = {}
    for tag in ("ph", "pc", "sc", "ec"):
        for code in unit.descendants(_core(tag)):
            if "id" in code.attributes and any(key.startswith("dataRef") for key in code.attributes):
                found.setdefault(code.attributes["id"], code)
    return found


def _plain(element: Element) -> str:
    """The text of an element that holds only text and `cp`."""
    return "".join(child if isinstance(child, str) else _code_point(child) for child in element.content)


def _code_point(element: Element) -> str:
    try:
        return chr(int(element.attributes.get("hex", ""), 16)) if element.name == _core("cp") else ""
    except (ValueError, OverflowError):
        return "\ufffd"


@dataclass(frozen=True, slots=True)
class _Reader:
    """Puts a unit's original data back into its text."""

    data: dict[str, str]
    codes: dict[str, Element]
    room: _Room
    name: str
    problems: Problems

    def text(self, element: Element) -> str:
        """The Markdown of a source or a target."""
        return "".join(child if isinstance(child, str) else self._code(child) for child in element.content)

    def _code(self, element: Element) -> str:
        tag = element.name.rpartition("}")[2]
        if tag == "cp":
            return _code_point(element)
        if tag in _MARKS:
            return self.text(element)
        if tag == "pc":
            return self._data(element, "dataRefStart") + self.text(element) + self._data(element, "dataRefEnd")
        if tag in ("ph", "sc"):
            return self._data(element, "dataRef", "dataRefStart")
        if tag == "ec":
            return self._data(element, "dataRef", "dataRefEnd")
        self._report(element, f"the text can't hold <{tag}>")
        return ""

    def _data(self, element: Element, *names: str) -> str:
        id = element.attributes.get("id") or element.attributes.get("startRef", "")
        for code in (element, self.codes.get(id)):
            ref = next((code.attributes[name] for name in names if name in code.attributes), None) if code else None
            if ref is not None and ref in self.data:
                return self.room.taken(self.data[ref])
        self._report(element, f"the placeholder {quoted(id)} stands for nothing in this unit")
        return ""

    def _report(self, element: Element, message: str) -> None:
        self.problems.error(
            "placeholder",
            Place(self.name, element.line, 1),
            message,
            "copy the placeholders of the source into the translation",
        )
