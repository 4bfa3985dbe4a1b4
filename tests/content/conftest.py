"""The stock content as plain data, read by PyYAML alone, so that a fault here is a fault of the content."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml

CONTENT = Path(__file__).resolve().parents[2] / "content"
LANGUAGES = ("en", "de", "nl", "fr")
NAMES = ("care", "disclosure", "glossary", "finish_rules")


class Text(NamedTuple):
    """One text of the stock: the file, the path of keys to it, its language, the text itself."""

    file: str
    path: str
    language: str
    text: str


def is_words(value: Any) -> bool:
    """A mapping whose keys are languages and whose values are texts (lists of variants are no Words)."""
    return (
        isinstance(value, dict)
        and bool(set(value) & set(LANGUAGES))
        and not any(isinstance(v, list) for v in value.values())
    )


def words_in(value: Any, path: str = "") -> Iterator[tuple[str, dict[str, str]]]:
    """Every Words below `value` with its path."""
    if is_words(value):
        yield path, value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from words_in(inner, f"{path}/{key}")
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from words_in(inner, f"{path}/{place}")


@pytest.fixture(scope="session")
def protocols() -> dict[str, dict[str, Any]]:
    """Stock protocols by id."""
    paths = sorted((CONTENT / "protocols").glob("*.yaml"))
    return {path.stem: yaml.safe_load(path.read_text("utf-8")) for path in paths}


@pytest.fixture(scope="session")
def stock() -> dict[str, Any]:
    """The other stock files by name."""
    return {name: yaml.safe_load((CONTENT / f"{name}.yaml").read_text("utf-8")) for name in NAMES}


@pytest.fixture(scope="session")
def words(protocols: dict[str, Any], stock: dict[str, Any]) -> list[tuple[str, str, dict[str, str]]]:
    """Every Words of the whole stock: file, path, language → text."""
    files = {f"protocols/{name}": data for name, data in protocols.items()} | stock
    return [(file, path, found) for file, data in files.items() for path, found in words_in(data)]


@pytest.fixture(scope="session")
def texts(words: list[tuple[str, str, dict[str, str]]]) -> list[Text]:
    """Every text of the whole stock."""
    return [Text(file, path, lang, text) for file, path, found in words for lang, text in found.items()]


@pytest.fixture(scope="session")
def sources() -> dict[str, str]:
    """The YAML as written, by path below the content folder (catalogues apart)."""
    paths = [*sorted((CONTENT / "protocols").glob("*.yaml")), *(CONTENT / f"{name}.yaml" for name in NAMES)]
    return {str(path.relative_to(CONTENT)): path.read_text("utf-8") for path in paths}
