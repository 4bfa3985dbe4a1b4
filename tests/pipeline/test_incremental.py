"""Correct before fast: what a build takes over from the one before is byte for byte what a cold build makes."""

import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from bench.publication import write_publication
from sitegen.pipeline.build import Built, build

Edit = Callable[[Path, random.Random], None]
REVIEWS = 9  # two rounds, so that one can stay as it is


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A publication with its site and the memory of having built it."""
    root = tmp_path_factory.mktemp("incremental")
    write_publication(root / "pub", REVIEWS)
    build(root / "pub", root / "site", root / "memory" / "store")
    return root


@pytest.fixture
def copy(first: Path, tmp_path: Path) -> Path:
    """A copy to edit. The memory knows the site by where it stands and by its files, so it's built once more here."""
    root = tmp_path / "copy"
    shutil.copytree(first / "pub", root / "pub")
    shutil.copytree(first / "memory", root / "memory")
    build(root / "pub", root / "site", root / "memory" / "store")
    return root


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


def assert_as_cold(root: Path, *, sound: bool = False) -> Built:
    """A build with all that is remembered says and makes what one without makes; gives what it came to."""
    warm = build(root / "pub", root / "site", root / "memory" / "store")
    cold = build(root / "pub", root / "cold", None)
    assert tuple(warm.problems.worst_first()) == tuple(cold.problems.worst_first())
    assert warm.published == cold.published and (cold.published or not sound)
    if cold.published:
        assert tree(root / "site") == tree(root / "cold")
        assert (warm.pages, warm.files) == (cold.pages, cold.files)
    return warm


def _pick(folder: Path, pattern: str, rng: random.Random) -> Path:
    return rng.choice(sorted(folder.glob(pattern)))


def _replace(path: Path, old: str, new: str) -> None:
    path.write_text(path.read_text("utf-8").replace(old, new, 1), "utf-8")


def _text(folder: Path, rng: random.Random) -> None:
    path = _pick(folder, "reviews/*/*.md", rng)
    path.write_text(
        path.read_text("utf-8") + f"\n\nOne more: {{mass of {_pick(folder, 'products/*.yaml', rng).stem}}}.\n", "utf-8"
    )


def _title(folder: Path, rng: random.Random) -> None:
    _replace(_pick(folder, "reviews/*/*.md", rng), 'title: "', f'title: "Word{rng.randrange(1000)} ')


def _reading(folder: Path, rng: random.Random) -> None:
    path = _pick(folder, "rounds/*/mass.csv", rng)
    lines = path.read_text("utf-8").splitlines()
    at = rng.randrange(1, len(lines))
    lines[at] = lines[at].replace(",g,", "0,g,")
    path.write_text("\n".join(lines) + "\n", "utf-8")


def _product(folder: Path, rng: random.Random) -> None:
    _replace(_pick(folder, "products/*.yaml", rng), "name: ", f"name: New{rng.randrange(1000)} ")


def _claim(folder: Path, rng: random.Random) -> None:
    _replace(_pick(folder, "products/*.yaml", rng), "tolerance: 3 %", f"tolerance: {rng.randrange(4, 40)} %")


def _round(folder: Path, rng: random.Random) -> None:
    _replace(_pick(folder, "rounds/*/round.yaml", rng), "to: 2026-10-02", f"to: 2026-10-{rng.randrange(10, 28)}")


def _ledger(folder: Path, rng: random.Random) -> None:
    _replace(folder / "ledger.yaml", "size: M", f"size: {rng.choice('SML')}")


def _ledger_parted(folder: Path, rng: random.Random) -> None:
    """Some samples move to a file of their own, or back."""
    whole, part = folder / "ledger.yaml", folder / "ledger" / "older.yaml"
    head, *samples = whole.read_text("utf-8").split("\n  - ")
    if part.exists():
        samples += part.read_text("utf-8").split("\n  - ")[1:]
        part.unlink()
    else:
        at = rng.randrange(1, len(samples))
        part.parent.mkdir(exist_ok=True)
        part.write_text("\n  - ".join([head, *samples[at:]]) + "\n", "utf-8")
        del samples[at:]
    whole.write_text("\n  - ".join([head, *(sample.rstrip("\n") for sample in samples)]) + "\n", "utf-8")


def _addresses(folder: Path, rng: random.Random) -> None:
    """Former addresses of two reviews, in two files; which they are changes each time."""
    (folder / "addresses").mkdir(exist_ok=True)
    for number, name in enumerate(("addresses.yaml", "addresses/older.yaml")):
        path = f"en/reviews/once-{number}-{rng.randrange(1000)}.html"
        review = sorted((folder / "reviews").iterdir())[number - 1].stem
        (folder / name).write_text(f"review:\n  {review}:\n    former: {path}\n", "utf-8")


def _settings(folder: Path, rng: random.Random) -> None:
    path = folder / "publication.yaml"
    kept = [line for line in path.read_text("utf-8").splitlines() if not line.startswith(("theme:", "missing_texts:"))]
    said = rng.choice(('theme: {accent: "#224466"}', "missing_texts: show lead", "missing_texts: leave out"))
    path.write_text("\n".join([*kept, said]) + "\n", "utf-8")


def _editions(folder: Path, rng: random.Random) -> None:
    path = folder / "publication.yaml"
    kept = [line for line in path.read_text("utf-8").splitlines() if not line.startswith("editions:")]
    path.write_text("\n".join([*kept, f"editions: {rng.choice(('[de]', '[de, nl]'))}"]) + "\n", "utf-8")


def _template(folder: Path, rng: random.Random) -> None:
    (folder / "theme" / "templates").mkdir(parents=True, exist_ok=True)
    own = folder / "theme" / "templates" / "list.html"
    own.write_text('{% extends "stock/list.html" %}\n' + "\n" * rng.randrange(1, 4), "utf-8")
    (folder / "theme" / "extra.css").write_text(f"p {{ margin: {rng.randrange(9)}px }}\n", "utf-8")


def _no_theme(folder: Path, rng: random.Random) -> None:
    shutil.rmtree(folder / "theme", ignore_errors=True)


def _rename(folder: Path, rng: random.Random) -> None:
    path = _pick(folder, "reviews/*", rng)
    path.rename(path.with_name(f"renamed-{rng.randrange(10_000)}"))


def _delete(folder: Path, rng: random.Random) -> None:
    if len(list(folder.glob("reviews/*"))) > 4:
        shutil.rmtree(_pick(folder, "reviews/*", rng))


def _translation_gone(folder: Path, rng: random.Random) -> None:
    for path in sorted(folder.glob("reviews/*/de.md"))[:1]:
        path.unlink()


def _guide(folder: Path, rng: random.Random) -> None:
    path = folder / "guides" / f"guide-{rng.randrange(3)}" / "en.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(
        f"---\ntitle: Guide {rng.randrange(100)}\nsummary: How to.\ndate: 2026-01-0{rng.randrange(1, 9)}\n---\nText.\n",
        "utf-8",
    )


def _mistake(folder: Path, rng: random.Random) -> None:
    path = _pick(folder, "reviews/*/en.md", rng)
    path.write_text(path.read_text("utf-8") + "\n\n[nowhere](review:nobody-at-all)\n", "utf-8")


EDITS: tuple[Edit, ...] = (
    _text, _title, _reading, _product, _claim, _round, _ledger, _ledger_parted, _addresses, _settings,
    _editions, _template, _no_theme, _rename, _delete, _translation_gone, _guide,
)  # fmt: skip


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: edit.__name__)
def test_after_one_edit(copy: Path, edit: Edit) -> None:
    """After each kind of edit the site is the one that a cold build makes."""
    edit(copy / "pub", random.Random(7))
    assert_as_cold(copy, sound=True)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_after_many_edits(copy: Path, seed: int) -> None:
    """After each of a sequence of random edits, one to three at a time, the site is the one that a cold build makes."""
    rng = random.Random(seed)
    published = 0
    for step in range(8):
        shutil.copytree(copy / "pub", copy / f"before-{step}")
        for edit in rng.choices(EDITS, k=rng.randint(1, 3)):
            edit(copy / "pub", rng)
        if assert_as_cold(copy).published:
            published += 1
        else:  # the edits don't go together: go on from before them
            shutil.rmtree(copy / "pub")
            (copy / f"before-{step}").rename(copy / "pub")
    assert published > 4


def test_after_a_mistake_and_its_mending(copy: Path) -> None:
    """A build that stops at an error leaves the site alone, and the next one forgets nothing of what had changed."""
    before = tree(copy / "site")
    _text(copy / "pub", random.Random(1))
    good = tree(copy / "pub")
    _mistake(copy / "pub", random.Random(2))
    assert_as_cold(copy)
    assert tree(copy / "site") == before
    for name, data in good.items():
        (copy / "pub" / name).write_bytes(data)
    assert_as_cold(copy)


def test_a_text_edit_writes_few_files(copy: Path) -> None:
    """One text changed: its page and those that list or sum it up are written, all others are taken over."""
    path = copy / "pub" / "reviews" / "tarnik-00000" / "en.md"
    path.write_text(path.read_text("utf-8") + "\n\nOne more sentence.\n", "utf-8")
    assert assert_as_cold(copy).changed == 1


def test_a_page_removed_by_somebody_is_made_again(copy: Path) -> None:
    """A published page that is gone isn't taken over."""
    pages = sorted((copy / "site").rglob("*.html"))
    pages[5].unlink()
    assert_as_cold(copy)


def test_workers_make_the_same_bytes(first: Path, tmp_path: Path) -> None:
    """The site is the same whether its pages are made by one process or by three."""
    for workers in (1, 3):
        build(first / "pub", tmp_path / str(workers), None, workers=workers)
    assert tree(tmp_path / "1") == tree(tmp_path / "3")
