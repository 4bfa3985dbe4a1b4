"""The glossary of an edition: every term that has a name in its language, in that language's order."""

from difflib import SequenceMatcher
from typing import Any

from sitegen.figures.forms.numbers import listing
from sitegen.figures.forms.term_forms import collation_key, own_word
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.theme.term_links import anchor
from sitegen.pages.views import Explained, GlossaryPage
from sitegen.problems import Problems

ALIKE = 0.6  # of two words: `Naht` and `Nähte` are at 0.67 (found by trying)


def glossary_page(sheet: Sheet, problems: Problems) -> GlossaryPage:
    """The view of the glossary."""
    title = sheet.t("Glossary")
    lead = sheet.t("Words of the trade and of measurement, as they are used here.")
    terms = explained(sheet)
    frame = make_frame(sheet, title=title, description=lead, structured=[_node(sheet, title, lead, terms)], parents=())
    return GlossaryPage(frame=frame, lead=lead, terms=terms)


def explained(sheet: Sheet) -> tuple[Explained, ...]:
    """The terms of an edition with their meaning."""
    publication = sheet.site.publication
    lead = publication.settings.lead
    named = [
        (name, id) for id, term in publication.terms.items() if (name := own_word(term, sheet.tag, lead)) is not None
    ]
    found: list[Explained] = []
    for name, id in sorted(named, key=lambda pair: (collation_key(pair[0], sheet.tag), pair[1])):
        term = publication.terms[id]
        also = dict(term.also)
        every = also.get(sheet.tag) or also.get(sheet.tag.split("-")[0], ())
        names = tuple(other for other in every if not _is_inflected(name, other))
        line = sheet.t("also: {names}", names=listing(sheet.edition.lang, names)) if names else ""
        found.append(Explained(id=anchor(id), name=name, also=names, also_text=line, means=sheet.say(term.means)))
    return tuple(found)


def _is_inflected(name: str, other: str) -> bool:
    """Whether another name is the same words in another form, such as a plural: a reader needn't be told that."""
    words, others = name.lower().split(), other.lower().split()
    return len(words) == len(others) and all(
        SequenceMatcher(None, a, b).ratio() >= ALIKE for a, b in zip(words, others, strict=True)
    )


def _node(sheet: Sheet, title: str, lead: str, terms: tuple[Explained, ...]) -> dict[str, Any]:
    """schema.org DefinedTermSet with its DefinedTerms."""
    address = sheet.site.plan.absolute(sheet.path)
    return {
        "@type": "DefinedTermSet", "name": title, "description": lead, "inLanguage": sheet.tag, "url": address,
        "hasDefinedTerm": [
            {"@type": "DefinedTerm", "name": term.name, "description": term.means, "url": f"{address}#{term.id}"}
            | ({"alternateName": list(term.also)} if term.also else {})
            for term in terms
        ],
    }  # fmt: skip
