"""The words of the interface: lookup is `Language.text`, `.text_in` and `.plural`; here is what goes with it.

A msgid is the English text, with `{name}` placeholders. Whoever uses a new one in a module or a template adds
it to the catalogues with `python -m sitegen.figures.forms.extract`; a test compares the two.
"""


def msgid(text: str) -> str:
    """The text itself, marked as a message: for one that stands in a table and is looked up elsewhere."""
    return text


def plural_msgid(singular: str, plural: str) -> tuple[str, str]:
    """Both texts of a message that goes with a number, marked as a message."""
    return singular, plural
