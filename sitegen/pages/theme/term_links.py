"""Leads from the first use of a term in a text to its place in the glossary.

Terms are looked for in running text only: not in headings, links, code, table captions or attributes. The text
comes in finished pieces of HTML, in which `<` and `>` stand for nothing but tags; a tag may begin in one piece
and end in a later one.
"""

import re
from dataclasses import field
from html import escape

from sitegen.datatypes import dataclass
from sitegen.figures.forms.term_forms import TermForms
from sitegen.pages.plan.plan import GLOSSARY, Page
from sitegen.pages.site import Sheet

_TAG = re.compile(r"(<[^>]*>?)")
_NAME = re.compile(r"</?([a-z0-9]+)")
_CLOSED = frozenset({"a", "h2", "h3", "h4", "h5", "h6", "code", "pre", "caption"})


def anchor(term: str) -> str:
    """A term's anchor on the glossary page."""
    return f"term-{term.replace('_', '-')}"


def term_links(sheet: Sheet, lang: str) -> "TermLinks | None":
    """The linker of one page; None where texts stay plain or the text is in another language than the page."""
    forms = sheet.site.terms.get(sheet.tag) if lang == sheet.tag else None
    path = sheet.site.plan.path(Page(GLOSSARY), sheet.tag)
    return TermLinks(forms, sheet.href(path)) if forms and path else None


@dataclass(slots=True)
class TermLinks:
    """Goes through the pieces of one text in their order."""

    forms: TermForms
    href: str
    used: set[str] = field(default_factory=set)
    closed: int = 0  # how many elements are open in which nothing is linked
    in_tag: bool = False

    def enter_link(self) -> None:
        """A link's opening tag was put in between two pieces."""
        self.closed += 1

    def put(self, html: str) -> str:
        """A piece with links at first uses."""
        parts = []
        if self.in_tag:
            rest, end, html = html.partition(">")
            parts.append(rest + end)
            self.in_tag = not end
        for part in _TAG.split(html) if html else ():
            if part.startswith("<"):
                self._pass_tag(part)
                parts.append(part)
            elif part:
                parts.append(part if self.closed or part.isspace() else self._linked(part))
        return "".join(parts)

    def _pass_tag(self, tag: str) -> None:
        self.in_tag = not tag.endswith(">")
        name = _NAME.match(tag)
        if name is not None and name[1] in _CLOSED:
            self.closed = max(0, self.closed + (-1 if tag.startswith("</") else 1))

    def _linked(self, text: str) -> str:
        parts, at = [], 0
        for id, start, end in self.forms.find(text):
            if id not in self.used:
                self.used.add(id)
                parts += [
                    text[at:start],
                    f'<a class="term" href="{escape(self.href)}#{anchor(id)}">{text[start:end]}</a>',
                ]
                at = end
        return "".join((*parts, text[at:])) if parts else text
