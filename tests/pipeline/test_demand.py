"""Values made on demand: made once, made again only when a lookup changed, and never otherwise than from nothing."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.disk.store import Store, digest_of
from sitegen.pipeline import demand
from sitegen.pipeline.demand import CycleError, Session, derived, node, report, session, unstored
from sitegen.place import Place
from sitegen.problems import Problems

LEAF = "leaf"


class World:
    """Numbers from outside, values derived from them, and which of these were made in this revision."""

    def __init__(self, **leaves: int) -> None:
        self.leaves, self.made, self.store = leaves, list[str](), Store(None, b"")
        self.formulas: dict[str, Callable[[], int]] = {}
        self.session = self._opened()

    def _opened(self) -> Session:
        found = Session(self.store)
        found.observe({LEAF: lambda name: digest_of(str(self.leaves[name]).encode())})
        return found

    def leaf(self, name: str) -> int:
        session().note(node(LEAF, name))
        return self.leaves[name]

    def make(self, name: str) -> int:
        self.made.append(name)
        return self.formulas[name]()

    def change(self, **leaves: int) -> None:
        """Other numbers; everything has to be verified from now on."""
        self.leaves.update(leaves)
        self.made.clear()
        self.session.begin()

    def reopen(self, only_current: bool = False) -> None:
        """The graph stored, and restored in another session."""
        self.session.save(only_current)
        self.session = self._opened()
        self.made.clear()

    def __call__(self, name: str) -> int:
        with self.session.in_use():
            return cell(name)


_worlds: list[World] = []


@derived
def cell(name: str) -> int:
    return _worlds[-1].make(name)


@unstored
def fleeting_cell(name: str) -> int:
    return _worlds[-1].make(name)


@derived
def tag_of_cell(name: str) -> str:
    problems = Problems()
    if _worlds[-1].leaf(name) < 0:
        problems.error("test", Place(name, 1, 1), f"{name} is negative")
    report(problems)
    return name


OURS = {kind: demand.RULES.pop(kind) for kind in ("cell", "fleeting_cell", "tag_of_cell")}


@pytest.fixture(autouse=True)
def world(monkeypatch: pytest.MonkeyPatch) -> Iterator[World]:
    """An empty world; the kinds of values of this file are known only while its tests run."""
    for kind, rule in OURS.items():
        monkeypatch.setitem(demand.RULES, kind, rule)
    _worlds.append(World())
    yield _worlds[-1]
    _worlds.clear()


def test_a_value_is_made_once(world: World) -> None:
    """However often and by whomever it is looked up in a revision."""
    world.leaves = {"a": 1}
    world.formulas = {
        "low": lambda: world.leaf("a"),
        "one": lambda: cell("low") + 1,
        "two": lambda: cell("low") + cell("one"),
    }
    assert (world("two"), world("one"), world("low"), world("two")) == (3, 2, 1, 3)
    assert sorted(world.made) == ["low", "one", "two"]


def test_only_what_looked_up_a_change_is_made_again(world: World) -> None:
    """Another number: values that looked it up are made anew, all others stay; so too after the graph was stored."""
    world.leaves = {"a": 1, "b": 2}
    world.formulas = {
        "of a": lambda: world.leaf("a"),
        "of b": lambda: world.leaf("b"),
        "both": lambda: cell("of a") + cell("of b"),
    }
    assert world("both") == 3
    world.change()
    assert (world("both"), world.made) == (3, [])
    world.reopen()
    assert (world("both"), world.made) == (3, [])
    world.change(b=5)
    assert (world("both"), sorted(world.made)) == (6, ["both", "of b"])


def test_what_comes_out_the_same_changes_nothing_further_up(world: World) -> None:
    """Early cut-off: a value made again to the same result leaves what looked it up alone."""
    world.leaves = {"a": 1}
    world.formulas = {"sign": lambda: 1 if world.leaf("a") > 0 else -1, "top": lambda: cell("sign") * 10}
    assert world("top") == 10
    world.change(a=7)
    assert (world("top"), world.made) == (10, ["sign"])
    world.change(a=-7)
    assert (world("top"), world.made) == (-10, ["sign", "top"])


def test_lookups_are_those_of_the_last_making(world: World) -> None:
    """What a value looked up before, and doesn't any more, no longer matters."""
    world.leaves = {"which": 0, "a": 1, "b": 2}
    world.formulas = {"top": lambda: world.leaf("b" if world.leaf("which") else "a")}
    assert world("top") == 1
    world.change(b=3)
    assert (world("top"), world.made) == (1, [])
    world.change(which=1)
    assert (world("top"), world.made) == (3, ["top"])
    world.change(a=9)
    assert (world("top"), world.made) == (3, [])


def test_a_lookup_that_became_meaningless_is_not_verified(world: World) -> None:
    """Lookups are verified in their order: with the first another, the second is no longer asked for, and may be gone."""
    world.leaves = {"there": 1, "a": 4}
    world.formulas = {
        "part": lambda: world.leaf("a") // world.leaf("there"),
        "top": lambda: cell("part") if world.leaf("there") else 0,
    }
    assert world("top") == 4
    world.change(there=0, a=5)
    assert (world("top"), world.made) == (0, ["top"])


def test_lookups_may_turn_round(world: World) -> None:
    """What looked up another value may be looked up by that one after a change: no cycle, and each made once."""
    world.leaves = {"turned": 0, "a": 1}
    world.formulas = {
        "left": lambda: cell("right") + 1 if not world.leaf("turned") else world.leaf("a"),
        "right": lambda: cell("left") + 1 if world.leaf("turned") else world.leaf("a"),
        "late left": lambda: _late(world, "late right", 0),
        "late right": lambda: _late(world, "late left", 1),
    }
    for turned in (0, 1, 0):
        world.change(turned=turned)
        assert (world("left"), world("right")) == ((1, 2) if turned else (2, 1))
        assert (world("late left"), world("late right")) == ((1, 2) if turned else (2, 1))
        assert len(world.made) == len(set(world.made)), world.made


def _late(world: World, other: str, looks_when: int) -> int:
    """As left and right, with the reason looked up last where it says not to go on."""
    found = cell(other) + 1 if world.leaves["turned"] == looks_when else world.leaf("a")
    world.leaf("turned")
    return found


def test_a_cycle_is_named(world: World) -> None:
    """A value that looks itself up by way of others is a fault of the program, which names the way; the session goes on."""
    world.leaves = {"a": 1}
    world.formulas = {"x": lambda: cell("y"), "y": lambda: cell("x"), "z": lambda: world.leaf("a")}
    with pytest.raises(CycleError, match="cell x → cell y → cell x"):
        world("x")
    assert world("z") == 1


def test_a_fault_in_a_value_leaves_no_trace(world: World) -> None:
    """What raises is made again when it is asked for again, and isn't taken for up to date."""
    world.leaves = {"a": 0}
    world.formulas = {"top": lambda: 1 // world.leaf("a")}
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            world("top")
    world.change(a=1)
    assert world("top") == 1


def test_an_unstored_value_is_made_again_for_whoever_asks(world: World) -> None:
    """Of it only the digest is stored: after restoring it is verified without being made, and made when it is wanted."""
    world.leaves = {"a": 1}
    world.formulas = {"low": lambda: world.leaf("a"), "top": lambda: fleeting_cell("low") + 1}
    assert world("top") == 2
    world.reopen()
    assert (world("top"), world.made) == (2, [])
    with world.session.in_use():
        assert fleeting_cell("low") == 1
    assert world.made == ["low"]
    world.change(a=2)
    assert (world("top"), sorted(world.made)) == (3, ["low", "top"])


def test_problems_are_reported_again_while_a_value_stays(world: World) -> None:
    """They belong to the value: reported while it stays and is asked for, also when restored; gone when it is made without."""
    world.leaves = {"a": -1, "b": -1}

    def reported(*names: str) -> list[str]:
        with world.session.in_use() as opened:
            for name in names:
                tag_of_cell(name)
            return [problem.message for problem in opened.problems()]

    assert reported("a") == ["a is negative"]
    assert reported("b") == ["a is negative", "b is negative"]
    world.reopen()
    assert reported() == []
    assert reported("b") == ["b is negative"]
    world.change(b=1)
    assert reported("b", "a") == ["a is negative"]


def test_few_values_are_at_hand(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond the bound the value that was asked for longest ago leaves the memory, and is read from the store, not made."""
    monkeypatch.setattr(demand, "AT_HAND", 40)
    world.leaves = {"a": 1}
    names = [f"n{number}" for number in range(20)]
    world.formulas = {name: (lambda name=name: world.leaf("a") + int(name[1:])) for name in names}  # type: ignore[misc]
    first = [world(name) for name in names]
    assert len(world.session._values) < 10 and world.session._size <= 40
    assert [world(name) for name in names] == first == list(range(1, 21))
    assert len(world.made) == 20


def test_a_session_with_only_what_is_current_forgets_the_rest(world: World) -> None:
    """What nobody asked for isn't stored, nor are its pieces; what is kept in the other case is verified before it is used."""
    world.leaves = {"a": 1, "b": 2}
    world.formulas = {"of a": lambda: world.leaf("a"), "of b": lambda: world.leaf("b")}
    assert (world("of a"), world("of b")) == (1, 2)
    world.reopen()
    world.leaves["b"] = 3
    assert world("of a") == 1
    world.reopen()
    assert (world("of b"), world.made) == (3, ["of b"])
    world.reopen(only_current=True)
    assert (world("of a"), world.made) == (1, ["of a"])


def test_notes_are_stored_with_the_graph(world: World) -> None:
    """Plain values of the caller's come back; those of the session alone don't."""
    world.session.notes["files"], world.session.notes_of_session["x"] = {"a": b"1"}, 1
    world.reopen()
    assert (world.session.notes, world.session.notes_of_session) == ({"files": {"a": b"1"}}, {})


def test_lookups_need_an_open_session() -> None:
    """Outside of one, a lookup is a fault of the program that says so."""
    with pytest.raises(LookupError, match="no session is open"):
        cell("x")


def test_a_key_may_hold_any_letter(world: World) -> None:
    """Names of files and what texts name come as they are: each key is given back, two are never taken for one, and all
    of them outlive the session."""
    parts = ["", "a", "\x1f", "a\x1fb", "\0", "\x1b", "\x1bs", "\x1bn\x1b[", "\x1b\x1f\0", "\ud800", "ä"]
    keys = [(one, two) for one in parts for two in parts] + [(one,) for one in parts]
    names = [demand.node("x", *key) for key in keys]
    assert [tuple(demand.key_of(name)) for name in names] == keys
    assert len(set(names)) == len(keys)
    world.leaves = dict.fromkeys(parts, 1)
    world.formulas = {part: (lambda part=part: world.leaf(part)) for part in parts}  # type: ignore[misc]
    assert [world(part) for part in parts] == [1] * len(parts)
    world.reopen()
    assert [world(part) for part in parts] == [1] * len(parts) and world.made == []


def test_two_kinds_of_values_have_two_names() -> None:
    """A second function of the same name is refused when it is declared."""

    def tag_of_cell(name: str) -> str:
        return name

    with pytest.raises(ValueError, match="two kinds of values are called tag_of_cell"):
        derived(tag_of_cell)


def test_what_was_made_elsewhere_is_taken_over(world: World) -> None:
    """With its lookups, problems and bytes; what looked up something that isn't known here is refused."""
    world.leaves = {"a": 1}
    world.formulas = {"low": lambda: world.leaf("a"), "top": lambda: cell("low") + 1}
    there = world._opened()
    with there.in_use():
        made = there.made_here([node("cell", "top")], lambda name: False)
    assert [one.node for one in made] == [node("cell", "low"), node("cell", "top")]
    world.made.clear()
    with world.session.in_use() as here:
        with pytest.raises(LookupError, match="isn't known here"):
            here.take_over(made[1])
        for one in made:
            here.take_over(one)
    assert (world("top"), world.made) == (2, [])
    world.change(a=2)
    assert (world("top"), world.made) == (3, ["low", "top"])


@pytest.mark.parametrize("with_file", [False, True])
def test_bytes_that_came_damaged_from_elsewhere_are_not_taken(world: World, tmp_path: Path, with_file: bool) -> None:
    """A value whose bytes aren't those of its digest is made here, and so is one of a kind that nobody knows."""
    world.store = Store(tmp_path / "cache" / "store" if with_file else None, b"release")
    world.leaves = {"a": 1}
    world.formulas = {"low": lambda: world.leaf("a")}
    world.session = world._opened()
    there = world._opened()
    with there.in_use():
        made = there.made_here([node("cell", "low")], lambda name: False)
    with world.session.in_use() as here:
        for wrong in (made[0]._replace(data=b"damaged"), made[0]._replace(node=node("nobody", "x"))):
            with pytest.raises(LookupError):
                here.take_over(wrong)
    assert world("low") == 1
    world.store.close()


CELLS = 7
Formula = tuple[str, int, int, int]
formulas = st.lists(
    st.tuples(st.sampled_from(["sum", "either", "coarse", "turning"]), *[st.integers(0, 5)] * 3),
    min_size=CELLS, max_size=CELLS,
)  # fmt: skip
steps = st.lists(
    st.tuples(
        st.dictionaries(st.sampled_from(["0", "1", "2", "3", "turn"]), st.integers(0, 3), max_size=3),
        st.sampled_from(["begin", "reopen", "reopen with what is current"]),
        st.lists(st.integers(0, CELLS - 1), min_size=1, max_size=3),
    ),
    min_size=1, max_size=6,
)  # fmt: skip


def _computed(world: World, plan: list[Formula], at: int, look: Callable[[str], int]) -> int:
    """The value of one cell; `look` gives others. Lookups go down, or up for turning cells while the world is turned."""
    kind, a, b, c = plan[at]
    leaf = world.leaf if look is cell else world.leaves.__getitem__

    def lower(step: int) -> int:
        return look(str(at - 1 - step)) if at - 1 - step >= 0 else leaf(str(step % 4))

    if kind == "sum":
        return lower(a) + lower(b) + leaf(str(c % 4))
    if kind == "either":
        return lower(b) if lower(a) % 2 else lower(c)
    if kind == "coarse":
        return (lower(a) + leaf(str(b % 4))) // 4
    # A pair of turning cells: which of the two looks at the other is known only from outside.
    other = at ^ 1
    goes = (world.leaves["turn"] % 2) == (at % 2)
    found = look(str(other)) + 1 if goes and other < CELLS and plan[other][0] == "turning" else leaf(str(a % 4))
    leaf("turn")
    return found


@settings(max_examples=120)
@given(plan=formulas, steps=steps)
def test_never_otherwise_than_from_nothing(
    plan: list[Formula], steps: list[tuple[dict[str, int], str, list[int]]]
) -> None:
    """Random graphs with lookups that depend on values, changed, stored and restored, asked for in part: each value is the
    one that plain recomputation gives, and none is made twice in a revision."""
    world = World(**dict.fromkeys(("0", "1", "2", "3", "turn"), 1))
    _worlds.append(world)
    world.formulas = {str(at): (lambda at=at: _computed(world, plan, at, cell)) for at in range(CELLS)}  # type: ignore[misc]

    def afresh(name: str) -> int:
        return _computed(world, plan, int(name), afresh)

    for changes, how, asked in steps:
        if how == "begin":
            world.change(**changes)
        else:
            world.leaves.update(changes)
            world.reopen(only_current=how != "reopen")
        for at in asked:
            assert world(str(at)) == afresh(str(at))
        assert len(world.made) == len(set(world.made)), world.made
