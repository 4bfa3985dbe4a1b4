"""Text that a reader sees, in one or several languages."""

from sitegen.datatypes import dataclass

# The language tag under which a plain text is kept until it is known which language that is.
LEAD = ""


@dataclass(frozen=True, slots=True)
class Words:
    """One text in several languages: pairs of language tag and text, in the order written.

    A text that was written without a language stands under the tag `LEAD`: it is in the
    publication's lead language (or, inside a text file, in the language of that file).
    """

    entries: tuple[tuple[str, str], ...]

    def exact(self, tag: str) -> str | None:
        """The text in exactly this language, None where there is none."""
        for found, text in self.entries:
            if found == tag:
                return text
        return None

    def choose(self, tag: str, lead: str) -> tuple[str, str]:
        """The best text for an edition and the tag of the language it is in.

        First the edition's own tag, then its base language (`de` for `de-AT`), then the lead,
        then English, then whatever was written first.
        """
        for wanted in (tag, tag.split("-")[0], lead, LEAD, "en"):
            text = self.exact(wanted)
            if text is not None:
                return text, (wanted or lead)
        found, text = self.entries[0]
        return text, found

    def text(self, tag: str, lead: str) -> str:
        """The best text for an edition."""
        return self.choose(tag, lead)[0]

    def tags(self) -> tuple[str, ...]:
        """The languages in which the text was written."""
        return tuple(tag for tag, _ in self.entries)


def plain_words(text: str) -> Words:
    """A text without a language."""
    return Words(((LEAD, text),))
