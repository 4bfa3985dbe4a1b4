"""The rules of the house that a reader can't see from one file: who imports whom, who touches the disk, what a start loads.

All of it is read off the syntax trees, so nothing is imported to be judged.
"""

import ast
import statistics
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

REPOSITORY = Path(__file__).resolve().parents[1]
PACKAGE = REPOSITORY / "sitegen"

FLOOR = ("datatypes", "exit_codes", "place", "problems", "stock", "terminal")
# Each may import those before it.
ROOMS = ("text", "records", "findings", "editorial", "figures", "editions", "pages", "disk", "pipeline", "desk")
TOP = ("cli", "__main__", "__init__")
ORDER = {name: rank for rank, name in enumerate(("floor", *ROOMS, *TOP))}

# The files that may read, write or look at the clock and the environment.
DOORS = (
    "text/source.py", "disk/", "desk/", "cli.py", "terminal.py",
    "pipeline/bounded.py",   # begins, bounds and ends a process
    "figures/forms/catalogue.py",  # message catalogues, read once a language
    "figures/forms/extract.py",    # a command of its own for those who work on the tool
    "pipeline/inputs.py",     # digests of the publication's files
    "pipeline/published.py",  # how files stand in the published folder
    "pipeline/release.py",    # the tool's own files
    "pipeline/unchanged.py",  # looks at all files before anything else is loaded
    "pipeline/workers.py",    # processors and processes
)  # fmt: skip
# The files that open files at all, with what they open; whatever is a publication's comes from text/source.py alone.
OPENERS = {
    "text/source.py": "the publication, and the stock and themes by the same functions",
    "figures/forms/catalogue.py": "message catalogues",
    "figures/forms/extract.py": "the tool's own code",
    "disk/images.py": "its own code, and pictures that were opened by text/source.py",
    "disk/output.py": "the published folder",
    "disk/lock.py": "the lock",
    "disk/store.py": "what earlier builds made",
    "disk/bytecode.py": "the theme's templates as byte code",
    "pipeline/release.py": "the tool's own code, content and themes",
    "pipeline/unchanged.py": "what the last build said; of the publication's folders it lists names and times",
    "desk/sheet_command.py": "the folder of bench sheets",
    "desk/worksheets.py": "worksheets, beside the publication",
    "desk/write_source.py": "the new file beside the one that it replaces",
    "terminal.py": "the null device",
    "pipeline/bounded.py": "what the system says of its own memory",
}
OPENING = {"open", "fdopen", "read_text", "read_bytes"}
HEAVY = ("matplotlib", "scipy", "PIL", "pint", "numpy")
NOT_AT_START = (
    *HEAVY,
    "babel",
    "jinja2",
    "yaml",
    "markdown_it",
    "markupsafe",
    "concurrent.futures.process",
    "unittest",
)

FILE_ACCESS = {
    "read_text",
    "read_bytes",
    "write_text",
    "write_bytes",
    "mkdir",
    "unlink",
    "rmdir",
    "iterdir",
    "rglob",
    "touch",
    "symlink_to",
}
OUTSIDE_MODULES = {
    "shutil",
    "tempfile",
    "socket",
    "subprocess",
    "http",
    "ftplib",
    "ssl",
    "urllib.request",
    "time",
    "locale",
    "getpass",
    "uuid",
    "secrets",
}
CLOCK_CALLS = {"now", "today", "utcnow", "fromtimestamp"}

FUNCTION_LINES, FILE_LINES = 35, 400


class Import(NamedTuple):
    """One imported module with its line, and whether importing the file runs it."""

    module: str
    line: int
    at_start: bool


class Code(NamedTuple):
    """One file of the package."""

    name: str
    tree: ast.Module
    lines: int

    @property
    def room(self) -> str:
        """The room that the file is in; a file beside the rooms is its own."""
        first = self.name.removesuffix(".py").split("/")[0]
        return "floor" if first in FLOOR else first

    @property
    def is_door(self) -> bool:
        """Whether the file may touch the world outside."""
        return any(self.name == door or (door.endswith("/") and self.name.startswith(door)) for door in DOORS)


@cache
def package() -> tuple[Code, ...]:
    """Every file of the package."""
    files = sorted(path for path in PACKAGE.rglob("*.py"))
    texts = {path.relative_to(PACKAGE).as_posix(): path.read_text("utf-8") for path in files}
    return tuple(Code(name, ast.parse(text, name), text.count("\n")) for name, text in texts.items())


def _statements(node: ast.AST, at_start: bool = True) -> Iterator[tuple[ast.AST, bool]]:
    """Every node below, and whether it runs when the file is imported."""
    for child in ast.iter_child_nodes(node):
        inner = at_start and not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            inner = False
        yield child, inner
        yield from _statements(child, inner)


def imports(tree: ast.Module) -> Iterator[Import]:
    """Every import of a file; `from a import b` counts as a.b too, since b may be a module."""
    for node, at_start in _statements(tree):
        if isinstance(node, ast.Import):
            yield from (Import(alias.name, node.lineno, at_start) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full"
            yield Import(node.module or "", node.lineno, at_start)
            yield from (Import(f"{node.module}.{alias.name}", node.lineno, at_start) for alias in node.names)


def _within(module: str, parents: tuple[str, ...] | set[str]) -> bool:
    return any(module == parent or module.startswith(parent + ".") for parent in parents)


def _told(faults: list[str]) -> str:
    return "\n" + "\n".join(faults)


def upward(code: Code) -> list[str]:
    """Imports of rooms that come later than the file's own."""
    found = {
        (entry.line, entry.module.split(".")[1])
        for entry in imports(code.tree)
        if entry.module.startswith("sitegen.") and not entry.module.startswith("sitegen.__version__")
    }
    known = ((line, "floor" if name in FLOOR else name) for line, name in found)
    return [f"{code.name}:{line} imports {name}" for line, name in sorted(known) if ORDER[name] > ORDER[code.room]]


def outside(code: Code) -> list[str]:
    """Where a file reads, writes, asks the clock, the environment or an unseeded random source."""
    told = [
        f"{code.name}:{e.line} imports {e.module}" for e in imports(code.tree) if _within(e.module, OUTSIDE_MODULES)
    ]
    for node in ast.walk(code.tree):
        if isinstance(node, ast.Call) and (fault := _outside_call(node)):
            told.append(f"{code.name}:{node.lineno} {fault}")
        elif isinstance(node, ast.Attribute) and ast.unparse(node) == "os.environ":
            told.append(f"{code.name}:{node.lineno} reads the environment")
    return told


def _outside_call(call: ast.Call) -> str:
    if isinstance(call.func, ast.Name):
        return f"calls {call.func.id}()" if call.func.id in {"open", "input", "print"} else ""
    if not isinstance(call.func, ast.Attribute):
        return ""
    name, owner = call.func.attr, ast.unparse(call.func.value)
    if name in FILE_ACCESS or (name == "open" and _opens_a_file(call, owner)):
        return f"calls .{name}()"
    if name in CLOCK_CALLS and owner.split(".")[-1] in {"date", "datetime"}:
        return f"asks the clock: {owner}.{name}()"
    if owner == "random" and not (name == "Random" and call.args):
        return f"draws without a seed: random.{name}()"
    return f"calls os.{name}()" if owner == "os" else ""


def _opens_a_file(call: ast.Call, owner: str) -> bool:
    """`.open(…)` of a path or of io and its like; other things may be opened too (a language, an edition)."""
    mode = call.args[0] if call.args else None
    is_mode = isinstance(mode, ast.Constant) and isinstance(mode.value, str) and set(mode.value) <= set("rwaxbt+")
    return owner in {"io", "codecs", "gzip", "zipfile"} or mode is None or is_mode


def test_no_room_imports_a_later_one() -> None:
    """text → records → findings → figures → editions → pages → disk → pipeline → desk: nothing flows back."""
    faults = [fault for code in package() for fault in upward(code)]
    assert faults == [], _told(faults)


def test_every_room_has_its_place_in_the_order() -> None:
    """A new folder or a new file beside the rooms is given a rank before it is used."""
    assert {code.room for code in package()} <= set(ORDER)


def test_the_floor_stands_on_the_standard_library_alone() -> None:
    """Places, problems and the way to the stock need nothing of anybody, so everything may use them."""
    allowed = sys.stdlib_module_names | {"sitegen"}
    faults = [
        f"{code.name}:{entry.line} imports {entry.module}"
        for code in package() if code.room == "floor"
        for entry in imports(code.tree) if entry.module.split(".")[0] not in allowed
    ]  # fmt: skip
    assert faults == [], _told(faults)


def test_findings_know_no_files_languages_or_pages() -> None:
    """The arithmetic can be read and tested without anything of the world."""
    foreign = ("pathlib", "babel", "gettext", "jinja2", "html", "csv", "yaml", "json", "io")
    faults = [
        f"{code.name}:{entry.line} imports {entry.module}"
        for code in package() if code.room == "findings"
        for entry in imports(code.tree) if _within(entry.module, foreign)
    ]  # fmt: skip
    assert faults == [], _told(faults)


def test_only_the_doors_touch_the_world() -> None:
    """Files, clock, environment, terminal and chance are met in few files; all else is functions of their arguments."""
    faults = [fault for code in package() if not code.is_door for fault in outside(code)]
    assert faults == [], _told(faults)


def opening(code: Code) -> list[str]:
    """Where a file opens or reads a file of the disk."""
    return [
        f"{code.name}:{node.lineno} {ast.unparse(node.func)}()"
        for node in ast.walk(code.tree)
        if isinstance(node, ast.Call) and _is_opening(node)
    ]


def _is_opening(call: ast.Call) -> bool:
    if isinstance(call.func, ast.Name):
        return call.func.id == "open"
    if not isinstance(call.func, ast.Attribute) or call.func.attr not in OPENING:
        return False
    owner = ast.unparse(call.func.value)
    return call.func.attr != "open" or owner in {"os", "Image"} or _opens_a_file(call, owner)


def test_publications_are_read_through_one_door() -> None:
    """Who opens files is listed with what they are; text/source.py alone hands on what is in a publication's."""
    faults = [fault for code in package() if code.name not in OPENERS for fault in opening(code)]
    assert faults == [], _told(faults)
    idle = [name for name in OPENERS if not any(code.name == name and opening(code) for code in package())]
    assert idle == [], "these open nothing any more"


def test_doors_exist() -> None:
    """The list of doors names no file that is gone."""
    gone = [door for door in DOORS if not (PACKAGE / door).exists()]
    assert gone == []


def test_matplotlib_is_met_in_one_file() -> None:
    """What a chart says is tested without drawing it: only the pens know the drawing library."""
    users = {code.name for code in package() for entry in imports(code.tree) if _within(entry.module, ("matplotlib",))}
    assert users == {"figures/drawing/draw_pens.py"}


def test_heavy_libraries_are_loaded_by_the_function_that_needs_them() -> None:
    """No file loads matplotlib, SciPy, NumPy, Pillow or Pint by being imported."""
    faults = [
        f"{code.name}:{entry.line} imports {entry.module}"
        for code in package() for entry in imports(code.tree)
        if entry.at_start and _within(entry.module, HEAVY)
    ]  # fmt: skip
    assert faults == [], _told(faults)


@pytest.mark.parametrize(
    ("text", "judge", "expected"),
    [
        ("from sitegen.pages import site", upward, ["findings/x.py:1 imports pages"]),
        ("def f():\n    import sitegen.disk.output", upward, ["findings/x.py:2 imports disk"]),
        ("from sitegen.records.fields.words import Words", upward, []),
        ("(root / name).open('rb')", opening, ["findings/x.py:1 (root / name).open()"]),
        ("(root / name).read_bytes()", opening, ["findings/x.py:1 (root / name).read_bytes()"]),
        ("os.open(path, os.O_RDONLY)", opening, ["findings/x.py:1 os.open()"]),
        ("shelf.open(text.lead_file)", opening, []),
        ("open('x')", outside, ["findings/x.py:1 calls open()"]),
        ("path.open('rb')", outside, ["findings/x.py:1 calls .open()"]),
        ("path.open()", outside, ["findings/x.py:1 calls .open()"]),
        ("edition.open(tag, lang)", outside, []),
        ("datetime.now()", outside, ["findings/x.py:1 asks the clock: datetime.now()"]),
        ("random.Random()", outside, ["findings/x.py:1 draws without a seed: random.Random()"]),
        ("random.Random(7)", outside, []),
        ("import time", outside, ["findings/x.py:1 imports time"]),
        ("os.environ['A']", outside, ["findings/x.py:1 reads the environment"]),
    ],
)
def test_the_rules_see_what_breaks_them(text: str, judge: Callable[[Code], list[str]], expected: list[str]) -> None:
    """Each rule finds a line that breaks it, and lets pass one that only looks like it."""
    assert expected == judge(Code("findings/x.py", ast.parse(text), 1))


def _loaded_by(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=REPOSITORY, capture_output=True, text=True, check=True, timeout=60
    )
    return set(done.stderr.split())


@pytest.mark.parametrize(
    "start",
    ["import sitegen.cli", "from sitegen.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass"],
    ids=["import sitegen.cli", "sitegen --help"],
)
def test_a_start_loads_nothing_heavy(start: str) -> None:
    """Asking for help, or importing the commands, loads no library besides the standard one."""
    loaded = _loaded_by(f"import sys\n{start}\nprint(*sys.modules, file=sys.stderr)")
    assert "sitegen.cli" in loaded
    assert sorted(name for name in loaded if _within(name, NOT_AT_START)) == []


def _functions() -> Iterator[tuple[int, str]]:
    for code in package():
        for node in ast.walk(code.tree):
            if isinstance(node, ast.FunctionDef) and node.end_lineno is not None:
                length = node.end_lineno - node.lineno + 1
                yield length, f"{length} lines: {node.name}() in {code.name}:{node.lineno}"


def test_functions_fit_on_a_screen(record_property: Callable[[str, object], None]) -> None:
    """Half of the functions stay within ten lines, nineteen in twenty within 35; single long ones are told, not forbidden."""
    functions = sorted(_functions(), reverse=True)
    long = [text for length, text in functions if length > FUNCTION_LINES]
    files = [f"{code.lines} lines: {code.name}" for code in package() if code.lines > FILE_LINES]
    if long or files:
        record_property(
            "note",
            "\n".join([f"over {FUNCTION_LINES} lines a function, {FILE_LINES} a file:", *long, *files]),
        )
    assert statistics.median(length for length, _ in functions) <= 10
    assert len(long) <= len(functions) / 20


def test_every_test_states_its_law() -> None:
    """Each test has a docstring that says what it proves."""
    silent = [
        f"{path.relative_to(REPOSITORY)}:{node.lineno} {node.name}"
        for path in sorted((REPOSITORY / "tests").rglob("test_*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_") and not ast.get_docstring(node)
    ]
    assert silent == [], _told(silent)
