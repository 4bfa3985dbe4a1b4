"""The small publication as records and findings, with some of its files replaced."""

import tempfile
from pathlib import Path

from builders import write

from sitegen import stock
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.language import open_language
from sitegen.findings.found import RoundFindings
from sitegen.findings.rounds import find_round
from sitegen.pipeline.build import read
from sitegen.problems import Problems
from sitegen.records.publication import Publication


def small_publication(files: dict[str, str | bytes | None] | None = None) -> Publication:
    """All records; fails where there is an error."""
    problems = Problems()
    with tempfile.TemporaryDirectory() as name:
        folder = write(Path(name), files or {})
        publication = read(folder, problems)
    assert publication is not None and not problems.has_errors, list(problems)
    return publication


def small_findings(publication: Publication, round: str = "trousers") -> RoundFindings:
    """The findings of its round."""
    found = publication.rounds[round]
    return find_round(found, publication.readings[round], publication.protocols, publication.products)


def edition(publication: Publication, tag: str = "en") -> Edition:
    """One edition of it."""
    lang = open_language(tag, stock.content_folder() / "catalogues")
    return Edition(lang, publication.settings.lead, publication.products, publication.protocols)
