"""Files that nothing reads: nearly always a slip in a name, and without a word they would just be missing."""

from collections.abc import Iterable, Mapping
from pathlib import PurePosixPath

from sitegen.place import Place
from sitegen.problems import Problems, nearest, quoted
from sitegen.records.names.file_names import fits

_ENDINGS = (".yaml", ".yml", ".csv", ".tsv", ".md", ".markdown", ".css")
# What an office program keeps, and the ending under which it is read here.
_OFFICE = {".xlsx": ".csv", ".xls": ".csv", ".ods": ".csv", ".docx": ".md", ".odt": ".md", ".txt": ".md"}
_ROOT = ("publication.yaml", "ledger.yaml", "addresses.yaml", "glossary.yaml")
_FORMS: Mapping[str, tuple[str, ...]] = {
    "products": ("products/*.yaml",),
    "protocols": ("protocols/*.yaml",),
    "ledger": ("ledger/*.yaml",),
    "addresses": ("addresses/*.yaml",),
    "rounds": ("rounds/*/round.yaml", "rounds/*/*.csv"),
    "rigs": ("rigs/*/rig.yaml", "rigs/*/log.csv"),
    "reviews": ("reviews/*.md", "reviews/*/*.md", "reviews/*/data.yaml", "reviews/*/*.follows.yaml"),
    "guides": ("guides/*.md", "guides/*/*.md", "guides/*/*.follows.yaml"),
    "about": ("about/*.md", "about/*.follows.yaml"),
    "theme": ("theme/extra.css",),
}


def check_unused(names: Iterable[str], problems: Problems) -> None:
    """Caution about every text file or table that lies where it is not looked for."""
    names = frozenset(names)
    for path in map(PurePosixPath, sorted(names)):
        if path.suffix.lower() in _OFFICE:
            _check_office(path, names, problems)
        if path.suffix.lower() not in _ENDINGS or _is_read(path):
            continue
        hint = _root_hint(path, names) if len(path.parts) == 1 else _folder_hint(path)
        if hint:
            problems.caution("file-unused", Place(path.as_posix(), 1, 1), "nothing reads this file", hint)


def _check_office(path: PurePosixPath, names: frozenset[str], problems: Problems) -> None:
    """A spreadsheet beside the table that was saved from it is as it should be; one alone is not read."""
    saved = path.with_suffix(_OFFICE[path.suffix.lower()])
    if len(path.parts) > 1 and _is_read(saved) and saved.as_posix() not in names:
        hint = f"save it as {saved}, as plain text in UTF-8"
        problems.caution("file-unused", Place(path.as_posix(), 1, 1), "nothing reads this file", hint)


def _is_read(path: PurePosixPath) -> bool:
    if len(path.parts) == 1:
        return path.name in _ROOT
    return any(fits(path.as_posix(), form.split("/")) for form in _FORMS.get(path.parts[0], ()))


def _root_hint(path: PurePosixPath, names: frozenset[str]) -> str:
    near = nearest(path.name, _ROOT)
    if near == _ROOT[0] and near not in names:
        return ""  # that there is no publication.yaml has been told, with this name
    return f"did you mean {near}?" if near else ""


def _folder_hint(path: PurePosixPath) -> str:
    """What to rename; empty for a folder that is none of ours, such as the author's own notes."""
    top = path.parts[0]
    if top not in _FORMS:
        near = nearest(top, _FORMS)
        return f"did you mean the folder {near}/, not {quoted(top)}?" if near else ""
    plain = PurePosixPath(path.as_posix().lower().removesuffix(".yml").removesuffix(".yaml"))
    for candidate in (path.as_posix().lower(), f"{plain}.yaml"):
        if candidate != path.as_posix() and _is_read(PurePosixPath(candidate)):
            return f"call it {candidate}"
    forms = [form.replace("*", "NAME") for form in _FORMS[top]]
    return f"read here: {', '.join(forms)}"
