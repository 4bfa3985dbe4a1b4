"""The front page of an edition: what this is, then the newest comparison with its answer, then the rest."""

import re
from pathlib import Path

import pytest

from sitegen.pipeline.build import build


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo, built: in its newest comparison each run time was measured once."""
    folder = tmp_path_factory.mktemp("demo") / "site"
    assert build(Path(__file__).parents[2] / "demo_site", folder, None).published
    return folder


@pytest.fixture(scope="module")
def front(small_site: Path) -> str:
    return (small_site / "en" / "index.html").read_text("utf-8")


def test_the_newest_comparison_comes_first_with_a_pick_for_each_use(small_site: Path, front: str) -> None:
    """Before the reviews; each use in one sentence that the comparison begins with too, and leads to it."""
    assert front.index("<h2>Newest comparison</h2>") < front.index("<h2>Reviews</h2>")
    uses = re.findall(r'<dt><a href="([^"#]+)#choices">([^<]+)</a></dt>\n<dd>([^<]+)</dd>', front)
    assert uses
    for href, use, sentence in uses:
        comparison = (small_site / "en" / href).read_text("utf-8")
        assert 'id="choices"' in comparison
        assert f"<dt>{use}</dt>\n<dd>{sentence}" in comparison


def test_a_comparison_without_picks_shows_what_was_found(demo: Path) -> None:
    """Run times of one lamp each put nobody first: the facts of the round stand there, as on its page."""
    front = (demo / "en" / "index.html").read_text("utf-8")
    newest = front.partition("<h2>Newest comparison</h2>")[2].partition("</section>")[0]
    found = re.findall(r"<li>([^<]+)</li>", newest)
    comparison = (demo / "en" / "rounds" / "six-head-torches-to-the-end.html").read_text("utf-8")
    assert found and all(f"<li>{fact}</li>" in comparison for fact in found)


def test_reviews_carry_their_kind_of_gear_and_lists_are_named_as_one_says(front: str) -> None:
    """A reader of trousers sees which reviews are of trousers; "All reviews", never a glued "All: Reviews"."""
    reviews = front.partition("<h2>Reviews</h2>")[2].partition("</section>")[0]
    assert "walking trousers" in reviews
    assert ">All reviews</a>" in reviews and "All:" not in front


def test_the_terms_stand_on_the_front_page(front: str) -> None:
    """With or without a sentence of its own, the front page says what the publication takes and doesn't take."""
    assert "nobody pays for a review" in front.lower()
