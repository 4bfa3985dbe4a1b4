"""Interface words that an edition borrows from English are marked as English, so that a screen reader can say them.

WCAG 2.2, 3.1.2 (language of parts). What is marked are whole elements whose text is one message: headings, links,
table heads, notes. A message with a value in it, or a sentence joined to others, keeps the page's language.
"""

import re
from functools import lru_cache

from markupsafe import escape

from sitegen.figures.forms.language import Language

_LEAF = re.compile(
    r"<(a|b|caption|dd|dt|figcaption|h[1-6]|li|p|small|span|strong|summary|td|th)((?: [^<>]*)?)>([^<>]+)</\1>"
)
_CONTEXT = "\x04"


@lru_cache(maxsize=32)
def borrowed_words(language: Language) -> frozenset[str]:
    """The messages that show in English on this language's pages, as they stand in HTML."""
    catalogue = language.catalogue
    foreign = catalogue.tag.partition("-")[0] != language.tag.partition("-")[0]
    found = catalogue.messages if foreign else catalogue.open_messages
    return frozenset(str(escape(message.rpartition(_CONTEXT)[2])) for message in found)


def mark_borrowed(page: str, language: Language) -> str:
    """The page with `lang="en"` on each element that is one borrowed message and has no language of its own."""
    words = borrowed_words(language)
    if not words:
        return page

    def mark(found: re.Match[str]) -> str:
        name, attributes, text = found[1], found[2], found[3]
        if text not in words or " lang=" in attributes:
            return found[0]
        return f'<{name}{attributes} lang="en">{text}</{name}>'

    return _LEAF.sub(mark, page)
