"""Which records a page was made from, noted while it is made.

A page may then be left as it is while none of those changed. What is noted is what was looked up, so a page
that begins to show something else needs no list of what it depends on to be kept by hand.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import field, replace
from functools import partial
from typing import TypeVar

from sitegen.datatypes import dataclass
from sitegen.pages.site import Site
from sitegen.records.text_files import Review
from sitegen.records.texts import Text
from sitegen.text.markdown_pieces import Parts

K = TypeVar("K")
V = TypeVar("V")
CARD = "card"  # a use of a review without the bodies of its texts
TEXT = "text"  # a use of such a body, by its file
BEHIND = "behind"  # a use of what is known of a lagging translation, by kind of page, id and language
EVERY = "*"  # in place of a key: all of a mapping was gone through

Use = tuple[str, object]


@dataclass(slots=True)
class Trace:
    """What was looked up since it was last emptied: the name of a mapping, and the key."""

    used: set[Use] = field(default_factory=set)


class Traced(Mapping[K, V]):
    """A mapping that notes what is looked up in it."""

    def __init__(self, name: str, records: Mapping[K, V], trace: Trace) -> None:
        self._name, self._records, self._trace = name, records, trace

    @property
    def unnoted(self) -> Mapping[K, V]:
        """The records, for what every page depends on anyway: which there are."""
        return self._records

    def light(self, key: K) -> V:
        """A record of which only that is looked at which may be seen of it elsewhere: a change of its text counts for nothing."""
        self._trace.used.add((CARD, key))
        light: Callable[[K], V] = getattr(self._records, "light", self._records.__getitem__)
        return light(key)

    def __getitem__(self, key: K) -> V:
        self._trace.used.add((self._name, key))
        return self._records[key]

    def __contains__(self, key: object) -> bool:
        self._trace.used.add((self._name, key))
        return key in self._records

    def __iter__(self) -> Iterator[K]:
        self._trace.used.add((self._name, EVERY))
        return iter(self._records)

    def __len__(self) -> int:
        self._trace.used.add((self._name, EVERY))
        return len(self._records)


class TracedReviews(Traced[str, Review]):
    """Reviews whose page in one language is not made from the text in another: what counts is whose body is looked into."""

    def __getitem__(self, key: str) -> Review:
        self._trace.used.add((CARD, key))
        review = self._records[key]
        texts = (replace(text, body=text.body.naming(partial(self._body, text))) for text in review.texts)
        return replace(review, texts=tuple(texts))

    def _body(self, text: Text) -> Parts:
        self._trace.used.add((TEXT, text.file))
        return text.body.parts()


def traced(site: Site, trace: Trace) -> Site:
    """The site with every mapping that changes with single files noting its uses.

    The others (settings, plan, rounds' frames, protocols, rigs, samples, pictures) count as used by every page.
    """

    def noted(name: str, records: Mapping[K, V]) -> Mapping[K, V]:
        return Traced(name, records, trace)

    publication = site.publication
    publication.index.gather()  # before processes part
    products = noted("products", publication.products)
    return replace(
        site,
        publication=replace(
            publication, products=products, readings=noted("findings", publication.readings),
            reviews=TracedReviews("reviews", publication.reviews, trace), guides=noted("guides", publication.guides),
            known_index=publication.index,
        ),
        editions={tag: replace(edition, products=products) for tag, edition in site.editions.items()},
        findings=noted("findings", site.findings), orders=noted("findings", site.orders), currencies=noted("findings", site.currencies),
        behind=noted(BEHIND, site.behind),
    )  # fmt: skip
