"""`sitegen editions --terms`: paragraphs that use a term in one language and none of its names in the other."""

from collections.abc import Iterable, Iterator

from sitegen.editions.worksheets.terms import TermGap


def term_lines(gaps: Iterable[TermGap]) -> Iterator[str]:
    """The gaps as a person reads them, one on two lines; last how many."""
    every = tuple(gaps)
    for gap in every:
        yield f"{gap.place}: {gap.lang} '{' '.join(gap.word.split())}' ({gap.term})"
        yield f"   {gap.other}: {gap.other_lang} has none of: {', '.join(gap.expected)}"
    many = "s" if len(every) > 1 else ""
    yield (
        f"{len(every)} use{many} of a term to look at"
        if every
        else "every term that a paragraph uses has its counterpart"
    )
