"""The same files and the same day give the same site, whatever machine, hour, user and number of processes make it.

Each variation is a build of its own process from a copy of its own, without memory. What a file's mode may depend on
is the umask alone, by which a user says who may read what is made.
"""

import os
import random
import stat
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest
from rich_publication import DAY, rich_files

REPOSITORY = Path(__file__).resolve().parents[1]
KINDS_OF_FILE = {".html", ".xml", ".txt", ".css", ".svg", ".csv", ".jpg", ".png", ".webp"}

# Put first on the way of imports, this moves every clock that Python code can ask by some years.
OTHER_CLOCK = """\
import datetime, time

AHEAD = {seconds}
real_time, real_ns, real_local, real_gm, real_form = time.time, time.time_ns, time.localtime, time.gmtime, time.strftime
time.time = lambda: real_time() + AHEAD
time.time_ns = lambda: real_ns() + AHEAD * 10**9
time.localtime = lambda seconds=None: real_local(time.time() if seconds is None else seconds)
time.gmtime = lambda seconds=None: real_gm(time.time() if seconds is None else seconds)
time.strftime = lambda form, at=None: real_form(form, time.localtime() if at is None else at)


class Date(datetime.date):
    @classmethod
    def today(cls):
        return cls.fromtimestamp(time.time())


class DateTime(datetime.datetime):
    @classmethod
    def now(cls, tz=None):
        return cls.fromtimestamp(time.time(), tz)

    @classmethod
    def today(cls):
        return cls.fromtimestamp(time.time())

    @classmethod
    def utcnow(cls):
        return cls.fromtimestamp(time.time(), datetime.timezone.utc).replace(tzinfo=None)


datetime.date, datetime.datetime = Date, DateTime
"""


class Surroundings(NamedTuple):
    """Where and how a build runs. `order` shuffles in what order the files come to be; `ahead` moves the clock, in seconds."""

    environment: dict[str, str] = {}  # noqa: RUF012  a tuple's default, never written to
    workers: int = 1
    umask: int = 0o022
    order: int = 0
    written: int = 1_700_000_000  # the files' time, s since 1970
    ahead: int = 0
    elsewhere: bool = False  # started in another folder, named by an absolute path


DAYS = 86_400
PLAIN = Surroundings({"TZ": "UTC", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "0"})
VARIED = {
    "another place": Surroundings(
        {"TZ": "Pacific/Apia", "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "LANGUAGE": "nl:tr", "PYTHONHASHSEED": "4711"},
        workers=2, order=1, written=315_532_800, ahead=-9000 * DAYS,
    ),  # 1980, the oldest time that a ZIP archive can hold
    "another hour": Surroundings(
        {"TZ": "Asia/Kathmandu", "LC_ALL": "C", "PYTHONHASHSEED": "99", "PYTHONUTF8": "0"},
        workers=3, order=2, written=2_200_000_000, ahead=4321 * DAYS + 12_345, elsewhere=True,
    ),
    "another user": Surroundings(
        {"HOME": "/nonexistent", "USER": "", "COLUMNS": "40", "PYTHONOPTIMIZE": "2", "PYTHONHASHSEED": "random", "NO_COLOR": "1"},
        workers=2, umask=0o077, order=3, elsewhere=True,
    ),
    "another machine": Surroundings(
        {"OPENBLAS_NUM_THREADS": "2", "OPENBLAS_CORETYPE": "Sandybridge", "NPY_DISABLE_CPU_FEATURES": "AVX2 FMA3 AVX512F AVX512_SKX",
         "MPLBACKEND": "svg", "PYTHONMALLOC": "malloc", "PYTHONDONTWRITEBYTECODE": "1"},
        umask=0o002, order=4, ahead=200 * DAYS,
    ),
}  # fmt: skip


def lay_out(folder: Path, how: Surroundings) -> Path:
    """The publication's files, made in another order for each `order`, so that a disk may list them so, with a given time."""
    names = sorted(rich_files())
    random.Random(how.order).shuffle(names)
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(rich_files()[name])
        os.utime(path, (how.written, how.written))
    return folder


def built(
    root: Path, how: Surroundings, python: str = sys.executable, day: tuple[str, ...] = ("--date", DAY)
) -> dict[str, tuple[int, bytes]]:
    """Mode and bytes of everything in the site that a process in these surroundings makes."""
    publication = lay_out(root / f"publication {how.order}", how)
    (root / "clock").mkdir()
    (root / "clock" / "sitecustomize.py").write_text(OTHER_CLOCK.format(seconds=how.ahead) if how.ahead else "")
    own = {
        "PYTHONPATH": os.pathsep.join((str(root / "clock"), str(REPOSITORY))),
        "MPLCONFIGDIR": str(root / "drawing"), "XDG_CACHE_HOME": str(root / "cache"), "TMPDIR": str(root),
    }  # fmt: skip
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("LC_", "LANG", "PYTHON"))}
    started = root if how.elsewhere else publication
    where = [str(publication)] if how.elsewhere else []
    command = [python, "-m", "sitegen", "build", *where, "--to", str(root / "site"), *day, "--quiet"]
    done = subprocess.run(
        [*command, "--workers", str(how.workers)],
        cwd=started, env={**kept, **own, **how.environment}, umask=how.umask, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    site = root / "site"
    found = {path.relative_to(site).as_posix(): path for path in site.rglob("*")}
    modes = {name: stat.S_IMODE(path.stat().st_mode) for name, path in found.items()}
    return {name: (modes[name], path.read_bytes() if path.is_file() else b"") for name, path in sorted(found.items())}


def differing(one: dict[str, tuple[int, bytes]], other: dict[str, tuple[int, bytes]]) -> list[str]:
    """The names of what is in one only, or has other bytes."""
    return sorted(
        name for name in one.keys() | other.keys() if one.get(name, (0, None))[1] != other.get(name, (0, None))[1]
    )


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[int, bytes]]:
    """The site as the plain surroundings make it."""
    return built(tmp_path_factory.mktemp("plain"), PLAIN)


@pytest.mark.slow
@pytest.mark.xdist_group("same_bytes")
def test_the_publication_has_every_kind_of_page(plain: dict[str, tuple[int, bytes]]) -> None:
    """What is compared is worth it: every list, every kind of page, redirects, photos, an overlay, data, feeds."""
    files = {name for name, (_, data) in plain.items() if data}
    lists = {
        f"{tag}/{kind}/index.html"
        for tag in ("de", "en")
        for kind in "reviews rounds guides methods products rigs".split()
    }
    single = {
        f"{tag}/{name}"
        for tag in ("de", "en")
        for name in ("index.html", "about.html", "disclosure.html", "glossary.html", "feed.xml")
    }
    other = {
        "404.html",
        "index.html",
        "sitemap.xml",
        "robots.txt",
        "de/reviews/die-hose.html",
        "photos/wetted/trousers-1.webp",
    }
    assert lists | single | other <= files
    assert {Path(name).suffix for name in files} == KINDS_OF_FILE
    assert "de/reviews/ein-dach.html" in files and not [name for name in files if name.startswith("en/reviews/a-roof")]
    assert b"<svg" in plain["de/rounds/wanderhosen-2026.html"][1]


@pytest.mark.slow
@pytest.mark.xdist_group("same_bytes")
@pytest.mark.parametrize("name", VARIED)
def test_surroundings_change_no_byte(name: str, plain: dict[str, tuple[int, bytes]], tmp_path: Path) -> None:
    """Clock, zone, locale, seed of hashes, processes, order and times of files, folder, user, optimisation: every file is the same."""
    how = VARIED[name]
    found = built(tmp_path, how)
    assert differing(plain, found) == []
    assert len(found) > 70
    wrong = {name: oct(mode) for name, (mode, data) in found.items() if mode != (0o666 if data else 0o777) & ~how.umask}
    assert wrong == {}


def test_the_other_clock_is_another() -> None:
    """The clocks that the variations move do tell another day: a build that asked one would be found out."""
    code = OTHER_CLOCK.format(seconds=4000 * DAYS) + (
        "\nprint(datetime.date.today().year, datetime.datetime.now().year, time.strftime('%Y'), time.gmtime().tm_year, time.time() > 2.0e9)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    ).stdout.split()
    assert len(set(told[:4])) == 1 and int(told[0]) >= 2036 and told[4] == "True"


@pytest.mark.slow
@pytest.mark.xdist_group("same_bytes")
def test_the_other_clock_reaches_a_build(plain: dict[str, tuple[int, bytes]], tmp_path: Path) -> None:
    """Without a day given, the moved clock shows what waits until Christmas Eve: so the variations would see any other look at it."""
    found = built(tmp_path, Surroundings(ahead=20_000 * DAYS), day=())
    assert "en/products/luv180.html" in found.keys() - plain.keys()


@pytest.mark.slow
@pytest.mark.xdist_group("same_bytes")
def test_another_python_makes_the_same(plain: dict[str, tuple[int, bytes]], tmp_path: Path) -> None:
    """Another release of Python with the same libraries gives the same site, byte for byte."""
    other = os.environ.get("SITEGEN_OTHER_PYTHON", "")
    if not other:
        pytest.skip("SITEGEN_OTHER_PYTHON names no other Python (one with the packages of requirements.txt)")
    code = "import sys; print(sys.version_info[:2])"
    theirs = subprocess.run([other, "-c", code], capture_output=True, text=True, check=True, timeout=60).stdout.strip()
    assert theirs != str(sys.version_info[:2]), "it is of the same release as the one that runs the tests"
    assert differing(plain, built(tmp_path, PLAIN, other)) == []
