"""The build after edits within texts makes and says what an ordinary one does: that one is the reference."""

import random
import shutil
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from rich_publication import DAY, write_rich
from test_incremental import EDITS, tree

import sitegen.disk.unchanged as unchanged
import sitegen.edited as edited
import sitegen.pages.render as render
from bench.publication import write_publication
from sitegen.cli import main
from sitegen.pages.plan import HOME
from sitegen.pages.site import Sheet
from sitegen.problems import Problems

ADDED = (
    "Noch ein Satz mit {mass of tarnik-00000}.",
    "## A heading\n\nTwo paragraphs, **both** short.\n\nAnd {spray after 3 washes of brommel-00006}.",
    "It weighed 9999 g on the bench, and 12 % ran through.",
    "- a list\n- of two\n\n| a | b |\n|---|---|\n| 1 | 2 |",
    "Brommel Aske 6 weighs 250 g, or so. The membrane may wet out.",
)
Said = tuple[int, str]


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """For each edit that was looked at: whether the short way was taken."""
    found: list[bool] = []
    ask = edited.build_edited

    def asked(*words: object) -> object:
        built = ask(*words)  # type: ignore[arg-type]
        found.append(built is not None)
        return built

    monkeypatch.setattr(edited, "build_edited", asked)
    return found


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A publication of two rounds."""
    root = tmp_path_factory.mktemp("edited")
    write_publication(root / "pub", 9)
    return root


@pytest.fixture
def root(first: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A copy of it that was built."""
    shutil.copytree(first / "pub", tmp_path / "pub")
    assert built(tmp_path, "site", capsys)[0] == 0
    return tmp_path


def built(root: Path, to: str, capsys: pytest.CaptureFixture[str], *words: str) -> Said:
    """Build; the exit code and what was told."""
    capsys.readouterr()
    code = main(["build", str(root / "pub"), "--to", str(root / to), "--quiet", *words])
    return code, capsys.readouterr().err


def assert_as_anew(root: Path, capsys: pytest.CaptureFixture[str], *words: str) -> Said:
    """The build of what was edited makes and says what one without any memory does."""
    for name in ("cold", "cold.memory"):
        shutil.rmtree(root / name, ignore_errors=True)
    said, anew = built(root, "site", capsys, *words), built(root, "cold", capsys, *words)
    assert said == anew
    if said[0] == 0:
        assert tree(root / "site") == tree(root / "cold")
    return said


def write_to(path: Path, words: str) -> None:
    path.write_text(f"{path.read_text('utf-8')}\n{words}\n", "utf-8")


@pytest.mark.parametrize("seed", range(3))
def test_edits_of_texts(root: Path, seed: int, taken: list[bool], capsys: pytest.CaptureFixture[str]) -> None:
    """One after another, of one text or of several at once: each goes the short way."""
    rng = random.Random(seed)
    texts = sorted((root / "pub" / "reviews").glob("*/*.md"))
    for _ in range(6):
        for path in rng.sample(texts, rng.choice((1, 1, 2))):
            write_to(path, rng.choice(ADDED))
        assert_as_anew(root, capsys)
    assert taken and all(taken)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_edits_of_everything_between(
    root: Path, seed: int, taken: list[bool], capsys: pytest.CaptureFixture[str]
) -> None:
    """Edits of texts with edits of all kinds between them, faults too: the short way is taken only where it comes to the same."""
    rng = random.Random(seed)
    for step in range(12):
        texts = sorted((root / "pub" / "reviews").glob("*/*.md"))
        path = rng.choice(texts)
        sound = path.read_text("utf-8")
        if step % 3 == 2:
            shutil.copytree(root / "pub", root / "kept")
            rng.choice(EDITS)(root / "pub", rng)
            if assert_as_anew(root, capsys)[0] != 0:
                shutil.rmtree(root / "pub")
                (root / "kept").rename(root / "pub")
            shutil.rmtree(root / "kept", ignore_errors=True)
        elif step % 4 == 1:
            write_to(path, "{mass of nobody} and [nowhere](review:nobody-at-all)")
            assert assert_as_anew(root, capsys)[0] == 1
            path.write_text(sound, "utf-8")
        else:
            write_to(path, rng.choice(ADDED))
        assert_as_anew(root, capsys)
    assert any(taken)


WAYS: dict[str, tuple[Callable[[Path], object], bool]] = {
    "a body": (lambda pub: write_to(pub / "reviews/tarnik-00000/de.md", "Ein Satz."), True),
    "a comment in a head": (lambda pub: change(pub / "reviews/tarnik-00000/de.md", "title: ", "# seen\ntitle: "), True),
    "a title": (lambda pub: change(pub / "reviews/tarnik-00000/de.md", 'title: "', 'title: "Neu: '), False),
    "a link": (lambda pub: write_to(pub / "reviews/tarnik-00000/de.md", "[da](review:brommel-00006)"), False),
    "a fact": (lambda pub: change(pub / "reviews/tarnik-00000/de.md", "\n---\n", "\nversion: 2026\n---\n"), False),
    "a reading": (lambda pub: change(pub / "rounds/round-00000/mass.csv", ",g,", "0,g,"), False),
    "a new file": (lambda pub: (pub / "reviews/tarnik-00000/notes.txt").write_text("?"), False),
    "a file gone": (lambda pub: (pub / "reviews/tarnik-00000/de.md").unlink(), False),
}  # fmt: skip


def change(path: Path, old: str, new: str) -> None:
    path.write_text(path.read_text("utf-8").replace(old, new, 1), "utf-8")


@pytest.mark.parametrize("name", WAYS)
def test_which_way_is_taken(root: Path, name: str, taken: list[bool], capsys: pytest.CaptureFixture[str]) -> None:
    """The short way where the edit shows on the text's own pages alone, the ordinary one else."""
    edit, short = WAYS[name]
    edit(root / "pub")
    assert_as_anew(root, capsys)
    assert (taken[:1] or [False]) == [short]


def test_a_touched_site_is_made_whole(root: Path, taken: list[bool], capsys: pytest.CaptureFixture[str]) -> None:
    """Where somebody wrote into the published folder, an ordinary build looks at every file."""
    write_to(root / "pub/reviews/tarnik-00000/de.md", "Ein Satz.")
    (root / "site" / "en" / "index.html").write_text("mine", "utf-8")
    assert_as_anew(root, capsys)
    assert not taken


def test_no_way_for_another_build_s_site(root: Path, taken: list[bool], capsys: pytest.CaptureFixture[str]) -> None:
    """The kept site of one build isn't used for what another published, nor on another day."""
    state = (root / "site.memory" / "unchanged").read_bytes()
    change(root / "pub/reviews/tarnik-00000/de.md", 'title: "', 'title: "Neu: ')
    assert_as_anew(root, capsys)
    (root / "site.memory" / "unchanged").write_bytes(state)
    write_to(root / "pub/reviews/tarnik-00000/de.md", "Ein Satz.")
    assert_as_anew(root, capsys)
    write_to(root / "pub/reviews/tarnik-00000/de.md", "Ein Satz.")
    assert_as_anew(root, capsys, "--date", "2031-01-01")
    assert not any(taken)


def test_a_text_that_other_pages_look_into_takes_the_ordinary_way(
    root: Path, taken: list[bool], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A front page that shows the number of a review's paragraphs is made anew when that changes; other texts go the short way."""
    make = render.make_view

    def curious(sheet: Sheet, problems: Problems) -> object:
        view = make(sheet, problems)
        if sheet.page.kind != HOME:
            return view
        body = sheet.site.publication.reviews["tarnik-00000"].texts[0].body
        return replace(view, lead=f"{len(body.paragraphs)} paragraphs")  # type: ignore[call-arg]

    monkeypatch.setattr(render, "make_view", curious)
    write_to(root / "pub/publication.yaml", "# so that all pages are made")
    assert assert_as_anew(root, capsys)[0] == 0
    for name, short in (("reviews/tarnik-00000/en.md", False), ("reviews/brommel-00006/en.md", True)) * 2:
        write_to(root / "pub" / name, "One more.\n\nAnd one.")
        assert_as_anew(root, capsys)
        assert taken.pop() == short


@pytest.mark.parametrize("seed", range(8))
def test_a_damaged_memory_is_noticed(root: Path, seed: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever of the kept site is damaged: the result is that of an ordinary build."""
    rng = random.Random(seed)
    for path in sorted((root / "site.memory").rglob("*")):
        if path.is_file() and path.name != "lock" and rng.random() < 0.3:
            data = bytearray(path.read_bytes())
            for _ in range(1 + len(data) // 400):
                data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
            path.write_bytes(data if seed % 2 else data[: rng.randrange(len(data))])
    write_to(root / "pub/reviews/tarnik-00000/de.md", ADDED[1])
    assert_as_anew(root, capsys)


@pytest.fixture
def rich(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """The rich publication, built."""
    write_rich(tmp_path / "pub")
    assert built(tmp_path, "site", capsys, "--date", DAY)[0] == 0
    return tmp_path


@pytest.mark.parametrize("stopped", ["by an error", "by force"])
def test_what_a_stopped_build_has_read_is_not_forgotten(
    rich: Path, stopped: str, taken: list[bool], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A price is changed, and the build that reads it publishes nothing; nor may the kept site go on with the old one."""
    text, day = rich / "pub/reviews/tarn/en.md", ("--date", DAY)
    change(rich / "pub/products/tarn.yaml", "149.90", "139.90")
    if stopped == "by an error":
        sound = text.read_text("utf-8")
        write_to(text, "{mass of nobody}")
        assert built(rich, "site", capsys, *day)[0] == 1
        text.write_text(sound, "utf-8")
    else:
        with monkeypatch.context() as patched:
            patched.setattr("sitegen.build.as_of", lambda *_: sys.exit(9))  # records are saved, nothing is made
            with pytest.raises(SystemExit):
                built(rich, "site", capsys, *day)
    for words in ("One more.", "And one more."):
        write_to(text, words)
        assert_as_anew(rich, capsys, *day)
    assert taken[-1]


def test_a_review_of_which_an_edition_waits_takes_the_ordinary_way(
    rich: Path, taken: list[bool], capsys: pytest.CaptureFixture[str]
) -> None:
    """What is told of the text that waits is told again, though no page shows it."""
    held = "first_published:\n  outlet: Hangbote\n  date: 2026-10-01\n  language: de\n  terms: With leave\n  fee: no\n"
    held += "  address: https://hangbote.example/tarn\n  embargo: {en: 2026-12-24}\n"
    change(rich / "pub/reviews/tarn/de.md", "---\n", f"---\n{held}")
    write_to(rich / "pub/reviews/tarn/en.md", "Some <b>bold</b> words.")
    assert "html-in-text" in assert_as_anew(rich, capsys, "--date", DAY)[1]
    write_to(rich / "pub/reviews/tarn/de.md", "Noch ein Satz.")
    assert "html-in-text" in assert_as_anew(rich, capsys, "--date", DAY)[1]
    assert not any(taken)


def test_a_lead_beside_the_folder_belongs_to_the_review(
    rich: Path, taken: list[bool], capsys: pytest.CaptureFixture[str]
) -> None:
    """With the lead in reviews/tarn.md: what was told there of a translation is gone once that is mended."""
    text, day = rich / "pub/reviews/tarn/en.md", ("--date", DAY)
    (rich / "pub/reviews/tarn/de.md").rename(rich / "pub/reviews/tarn.md")
    whole = text.read_text("utf-8")
    text.write_text(whole[: whole.index("---\n", 4) + 4], "utf-8")
    assert "reviews/tarn.md" in assert_as_anew(rich, capsys, *day)[1]
    text.write_text(whole, "utf-8")
    assert "reviews/tarn.md" not in assert_as_anew(rich, capsys, *day)[1]
    assert taken[-1]


def test_what_was_told_belongs_to_the_state_that_it_was_told_of(
    rich: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A build is ended between both: what it told isn't told of the text that stood before, and stands again."""
    text, day = rich / "pub/reviews/tarn/en.md", ("--date", DAY)
    change(text, "It weighs {mass};", "It weighs {mass}, not 999 g{meant};")
    other = rich / "pub/reviews/fenn/de.md"
    other.parent.mkdir()
    head = "title: Fenn\nsummary: Auch.\nproduct: fenn\nround: trousers\ndate: 2026-10-05"
    other.write_text(f"---\n{head}\n---\nSie wiegt {{mass}}.\n", "utf-8")
    assert_as_anew(rich, capsys, *day)
    aside = text.rename(rich / "aside")
    text.write_text(aside.read_text("utf-8").replace("999 g{meant}", "999 g"), "utf-8")
    with monkeypatch.context() as patched:
        patched.setattr(unchanged, "remember", lambda *_: None)
        assert "999 g" in built(rich, "site", capsys, *day)[1]
    aside.rename(text)
    write_to(other, "Mehr.")
    assert "999 g" not in assert_as_anew(rich, capsys, *day)[1]


def test_a_lost_pack_is_kept_anew(root: Path, taken: list[bool], capsys: pytest.CaptureFixture[str]) -> None:
    """One edit takes the ordinary way then, not all of them."""
    for name in ("site.pack", "reviews.pack"):
        (root / "site.memory" / name).unlink()
        for _ in range(2):
            write_to(root / "pub/reviews/tarnik-00000/de.md", "Noch ein Satz.")
            assert_as_anew(root, capsys)
    assert taken == [False, True] * 2


def test_every_text_of_a_rich_publication(
    tmp_path: Path, taken: list[bool], capsys: pytest.CaptureFixture[str]
) -> None:
    """With reviews that wait, appeared elsewhere, carry their readings, with photos, terms, follows and cautions."""
    write_rich(tmp_path / "pub")
    day = ("--date", DAY)
    built(tmp_path, "site", capsys, *day)
    for path in sorted((tmp_path / "pub").glob("*/*/*.md")):
        write_to(path, "One more sentence of 412 g, {mass of tarn}, which may wet out.")
        assert_as_anew(tmp_path, capsys, *day)
    assert any(taken) and not all(taken)
