"""Where the stock content and the themes lie; the only file that knows.

In a checkout they stand beside the package, in an installed wheel inside it.
"""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _folder(name: str) -> Path:
    inside = _PACKAGE / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def content_folder() -> Path:
    """Stock protocols, care words, sentences, terms and message catalogues."""
    return _folder("content")


def themes_folder() -> Path:
    """The themes that come with the tool."""
    return _folder("themes")
