"""`sitegen editions`: how the translations stand, recording it, worksheets out and back, the translation memory."""

import argparse
import json
from collections.abc import Iterable
from pathlib import Path

from sitegen.desk.editions_table import as_json, details, table
from sitegen.desk.telling import print_problems
from sitegen.desk.text_shelf import Shelf, TextFiles, WrongUse
from sitegen.exit_codes import AT_FAULT, WRONG_USE
from sitegen.problems import Problems, nearest, quoted
from sitegen.records.fields.fields import take_record
from sitegen.records.settings import SETTINGS_FILE, Settings, check_settings
from sitegen.terminal import give, tell
from sitegen.text.source import read_source, walk_sources
from sitegen.text.yaml_nodes import parse_yaml


def run(parsed: argparse.Namespace, folder: Path) -> int:
    """The command; its exit code."""
    problems = Problems()
    if parsed.terms:
        return _terms(folder, problems)
    shelf = open_shelf(folder, problems)
    if shelf is None:
        return print_problems(folder, problems)
    try:
        chosen = _chosen(shelf, parsed.text or ())
        _do(parsed, shelf, chosen)
    except WrongUse as fault:
        tell(f"sitegen: {fault}\n")
        return WRONG_USE
    except BrokenPipeError:
        raise
    except OSError as fault:
        tell(
            f"sitegen: {fault.strerror or fault}: '{fault.filename or ''}'; what was not reported as done is as it was\n"
        )
        return AT_FAULT
    return print_problems(folder, problems)


def _terms(folder: Path, problems: Problems) -> int:
    """The paragraphs that use a term in one language only; nothing of it is a fault."""
    from sitegen.desk.editions_terms import term_lines
    from sitegen.editions.worksheets.terms import term_report
    from sitegen.pipeline.build import read

    publication = read(folder, problems)
    if publication is not None:
        _say(term_lines(term_report(publication)))
    return print_problems(folder, problems)


def _do(parsed: argparse.Namespace, shelf: Shelf, chosen: tuple[TextFiles, ...]) -> None:
    if not (parsed.record or parsed.export_to or parsed.import_from or parsed.memory):
        _show(shelf, chosen, parsed.json)
        return
    from sitegen.desk.editions_record import record
    from sitegen.desk.worksheets import export_memory, export_sheets, import_sheets

    if parsed.record:
        _say(record(shelf, chosen, named=bool(parsed.text)))
    elif parsed.export_to:
        _say(export_sheets(shelf, chosen, parsed.export_to))
    elif parsed.import_from:
        _say(import_sheets(shelf, parsed.import_from))
    else:
        _say(export_memory(shelf, parsed.memory))


def open_shelf(folder: Path, problems: Problems) -> Shelf | None:
    """The texts below a folder, None where it has no usable settings."""
    names = walk_sources(folder)
    settings = _settings(folder, names, problems)
    if settings is None:
        return None
    return Shelf(folder, names, settings.lead, tuple(settings.tags[1:]), problems)


def _settings(folder: Path, names: tuple[str, ...], problems: Problems) -> Settings | None:
    """publication.yaml, read without what the rest of a publication needs: that takes longer to load than this to run."""
    if SETTINGS_FILE not in names:
        from sitegen.records.publication import Folder, read_settings

        return read_settings(Folder(folder, names, problems))
    source = read_source(folder, SETTINGS_FILE, problems)
    node = parse_yaml(source, problems) if source else None
    settings = take_record(Settings, node, problems, "the publication") if node else None
    return check_settings(settings, node, problems) if settings is not None and node is not None else None


def _chosen(shelf: Shelf, wanted: Iterable[str]) -> tuple[TextFiles, ...]:
    """The texts that were asked for, all of them where none was."""
    by_name = {text.name: text for text in shelf.texts}
    found = []
    for name in (name.replace("\\", "/").strip("/") for name in wanted):
        if name not in by_name:
            near = nearest(name, by_name)
            hint = (
                f"did you mean {near}?"
                if near
                else f"a text is named by its folder, such as {next(iter(by_name), 'reviews/x')}"
            )
            raise WrongUse(f"there is no text {quoted(name)}; {hint}")
        found.append(by_name[name])
    return tuple(found) or shelf.texts


def _show(shelf: Shelf, chosen: tuple[TextFiles, ...], wants_json: bool) -> None:
    statuses = [shelf.status(text, lang) for text in chosen for lang in shelf.editions]
    if wants_json:
        give(f"{json.dumps(as_json(shelf, statuses), indent=1)}\n")  # in ASCII, which any output takes
        return
    if not shelf.editions:
        give(f"this publication has one language, {shelf.lead}; further ones go into `editions` in {SETTINGS_FILE}\n")
        return
    _say(table(shelf, statuses))
    _say(details(statuses))


def _say(lines: Iterable[str]) -> None:
    for line in lines:
        give(f"{line}\n")
