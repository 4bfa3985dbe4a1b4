"""Values made on demand, stored with what they looked up, and made again only when some of that changed.

A derived value is a pure function of what it looks up: other derived values, and inputs (files, the list of their
names, the day). Each lookup is noted while the value is made. Later the value is up to date if everything that it
looked up is; where a value is made again and comes out the same, what depends on it stays (early cut-off). This is
the verifying trace with cut-off of A. Mokhov, N. Mitchell and S. Peyton Jones, Build systems à la carte, ICFP 2018,
section 4.2.2, by revision numbers.

    @derived
    def product(id: str) -> Product | None: ...

    product("halde")        # looked up, noted for whatever value is being made, made only if need be

What is wrong is reported with `report` and belongs to the value, so that it is reported again while the value stays.
"""

import marshal
from array import array
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import wraps
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar, cast

from sitegen.disk.store import Store, digest_of
from sitegen.pipeline import codec
from sitegen.problems import Problem

P = ParamSpec("P")
V = TypeVar("V")

SEPARATOR = "\x1f"  # between the parts of a node's name
# Names of files, and names that texts give, may hold any letter.
_ESCAPED = str.maketrans({"\x1b": "\x1b[", SEPARATOR: "\x1bs", "\0": "\x1bn"})
AT_HAND = 24 * 1024 * 1024  # bytes, as stored, of the values that are in memory at a time
_CLEAN, _UNKNOWN = 1, 0


class CycleError(Exception):
    """A value looks itself up: a fault of the program. The text names the values on the way."""


Input = Callable[..., bytes]
"""Gives the digest of something from outside, by its key: asked for once in a session."""


class Rule(Generic[V]):
    """How the values of one kind are made."""

    def __init__(self, name: str, make: Callable[..., V], stored: bool, raw: bool) -> None:
        self.name, self.make, self.stored, self.raw = name, make, stored, raw

    def dump(self, value: V) -> bytes:
        """The value as bytes."""
        return cast(bytes, value) if self.raw else codec.dump(value)

    def load(self, data: bytes) -> V:
        """The value from bytes. Raises `codec.Unreadable`."""
        return cast(V, data if self.raw else codec.load(data))


RULES: dict[str, Rule[Any]] = {}


def derived(make: Callable[P, V]) -> Callable[P, V]:
    """Declare how values of a kind are made; calling the function looks one up. The arguments are strings."""
    return _declared(make, stored=True, raw=False)


def derived_bytes(make: Callable[P, bytes]) -> Callable[P, bytes]:
    """As `derived`, for values that are bytes as they are."""
    return _declared(make, stored=True, raw=True)


def unstored(make: Callable[P, V]) -> Callable[P, V]:
    """As `derived`, for values of which only the digest is stored: each is made again when somebody asks for it."""
    return _declared(make, stored=False, raw=False)


def unstored_bytes(make: Callable[P, bytes]) -> Callable[P, bytes]:
    """As `unstored`, for values that are bytes as they are."""
    return _declared(make, stored=False, raw=True)


def _declared(make: Callable[P, V], stored: bool, raw: bool) -> Callable[P, V]:
    rule = Rule(make.__name__, cast(Callable[..., V], make), stored, raw)
    if RULES.setdefault(rule.name, rule) is not rule:
        raise ValueError(f"two kinds of values are called {rule.name}")

    @wraps(make)
    def look_up(*key: P.args, **_: P.kwargs) -> V:
        return cast(V, session().look_up(node(rule.name, *cast("tuple[str, ...]", key))))

    return look_up


def node(kind: str, *key: str) -> str:
    """The name of one value: its kind and its key."""
    name = SEPARATOR.join((kind, *key))
    if name.count(SEPARATOR) == len(key) and "\x1b" not in name and "\0" not in name:
        return name
    return SEPARATOR.join((kind, *(part.translate(_ESCAPED) for part in key)))


def key_of(name: str) -> list[str]:
    """The key in the name of a value."""
    key = name.split(SEPARATOR)[1:]
    if "\x1b" not in name:
        return key
    return [part.replace("\x1bn", "\0").replace("\x1bs", SEPARATOR).replace("\x1b[", "\x1b") for part in key]


def report(problems: Iterable[Problem]) -> None:
    """Report what is wrong with what the value being made was made from."""
    session().report(problems)


_sessions: list["Session"] = []


def session() -> "Session":
    """The session in which values are looked up. Raises LookupError outside of one."""
    if not _sessions:
        raise LookupError("no session is open")
    return _sessions[-1]


class Made(NamedTuple):
    """A value made in another process: what it looked up, what is wrong, and its bytes where these are wanted here."""

    node: str
    digest: bytes
    deps: tuple[str, ...]
    problems: tuple[Problem, ...]
    data: bytes | None


class _Frame:
    """A value being made: what it looked up so far, in order, and what is wrong."""

    __slots__ = ("deps", "id", "problems")

    def __init__(self, id: int) -> None:
        self.id, self.deps, self.problems = id, dict[int, None](), list[Problem]()


class Session:
    """The graph of values, brought up to date as far as somebody asks. One at a time is open in a process."""

    def __init__(self, store: Store) -> None:
        self.store, self._inputs = store, dict[str, Input]()
        self._names: list[str] = []
        self._ids: dict[str, int] = {}
        self._digests: list[bytes] = []
        self._changed = array("q")  # the revision in which the digest became what it is
        self._made = array("q")  # the last revision in which the value was known to be up to date
        self._deps: list[bytes | None] = []  # array("i") of ids; None for one that was never made, and for inputs
        self._problems: dict[int, bytes] = {}
        self._state = bytearray()
        self._frames: list[_Frame] = []
        self._values: OrderedDict[int, tuple[Any, int]] = OrderedDict()
        self._size = 0
        self.revision = 1
        self.notes: dict[str, Any] = {}  # plain values of the caller's that are stored with the graph
        self.notes_of_session: dict[str, Any] = {}  # and such as are not
        self._busy: set[int] = set()  # being verified or made
        self._since: list[int] | None = None  # ids made since a worker's piece of work began
        self._restore()

    def observe(self, inputs: Mapping[str, Input]) -> None:
        """Have each kind of input observed by a function that gives its digest."""
        self._inputs = dict(inputs)

    # Looking up

    def look_up(self, name: str) -> Any:
        """A value, noted as looked up by the one that is being made."""
        id = self._noted(name)
        found = self._values.get(id)
        if found is None:
            return self._load(id)
        self._values.move_to_end(id)
        return found[0]

    def digest(self, name: str) -> bytes:
        """The digest of a value, noted like the value itself."""
        return self._digests[self._noted(name)]

    def note(self, name: str) -> None:
        """Note an input or a value as looked up."""
        self._noted(name)

    def report(self, problems: Iterable[Problem]) -> None:
        """Report what is wrong with the value being made."""
        self._frames[-1].problems.extend(problems)

    def noting(self, make: Callable[[], V]) -> tuple[V, tuple[int, ...]]:
        """Call `make`; gives what it looked up too, for `note_again` wherever its result is used once more."""
        if not self._frames:
            return make(), ()
        outer = self._frames[-1]
        inner = _Frame(outer.id)
        self._frames.append(inner)
        try:
            found = make()
        finally:
            self._frames.pop()
        outer.deps.update(inner.deps)
        outer.problems += inner.problems
        return found, tuple(inner.deps)

    def note_again(self, looked_up: tuple[int, ...]) -> None:
        """Note as looked up what `noting` gave."""
        if self._frames:
            self._frames[-1].deps.update(dict.fromkeys(looked_up))

    def is_current(self, name: str) -> bool:
        """Whether a value can be had without making it."""
        id = self._ids.get(name)
        return id is not None and self._stays(id)

    def problems(self) -> Iterator[Problem]:
        """What is wrong with everything that was looked up in this session, in a fixed order."""
        rank = {kind: number for number, kind in enumerate(RULES)}
        found = [self._names[id] for id in self._problems if self._state[id] == _CLEAN]
        for name in sorted(found, key=lambda name: (rank[name.partition(SEPARATOR)[0]], name)):
            yield from codec.load(self._problems[self._ids[name]])

    @contextmanager
    def in_use(self) -> Iterator["Session"]:
        """Have lookups go to this session."""
        _sessions.append(self)
        try:
            yield self
        finally:
            _sessions.pop()

    def begin(self) -> None:
        """Begin anew: inputs may be others now. Values that were up to date are so again once that is verified."""
        self.revision += 1
        self._state = bytearray(len(self._names))

    # Bringing up to date

    def _noted(self, name: str) -> int:
        id = self._ids.get(name)
        if id is None:
            id = self._add(name)
        if self._frames:
            self._frames[-1].deps[id] = None
        if not self._state[id]:
            self._bring_up(id)
        return id

    def _add(self, name: str) -> int:
        id = self._ids[name] = len(self._names)
        self._names.append(name)
        self._digests.append(b"")
        self._changed.append(0)
        self._made.append(0)
        self._deps.append(None)
        self._state.append(_UNKNOWN)
        return id

    def _bring_up(self, id: int) -> None:
        kind = self._names[id].partition(SEPARATOR)[0]
        if kind in self._inputs:
            self._observe_input(id, kind)
        elif not self._stays(id):
            self._make(id)

    def _observe_input(self, id: int, kind: str) -> None:
        digest = self._inputs[kind](*key_of(self._names[id]))
        self._settle(id, digest)

    def _settle(self, id: int, digest: bytes) -> None:
        if digest != self._digests[id]:
            self._digests[id] = digest
            self._changed[id] = self.revision
        self._made[id] = self.revision
        self._state[id] = _CLEAN

    def _stays(self, id: int) -> bool:
        """Whether nothing changed that a value looked up, in the order in which it did: what a later lookup was for may
        be gone once an earlier one is another.
        """
        if self._state[id]:
            return True
        deps = self._deps[id]
        if deps is None:
            return False
        self._busy.add(id)
        try:
            made = self._made[id]
            for dep in _ids(deps):
                if not self._state[dep]:
                    if dep in self._busy:  # what the one now being made looked up before it changed
                        return False
                    self._bring_up(dep)
                    if self._state[id]:  # made meanwhile, by a lookup of what was brought up
                        return True
                if self._changed[dep] > made:
                    return False
        finally:
            self._busy.discard(id)
        self._made[id] = self.revision
        self._state[id] = _CLEAN
        return True

    def _make(self, id: int) -> Any:
        if any(frame.id == id for frame in self._frames):
            way = [self._said(frame.id) for frame in self._frames]
            raise CycleError(" → ".join([*way, self._said(id)]))
        rule, key = self._rule(id)
        frame = _Frame(id)
        self._frames.append(frame)
        self._busy.add(id)
        try:
            value = rule.make(*key)
        finally:
            self._frames.pop()
            self._busy.discard(id)
        data = rule.dump(value)
        self._take(id, digest_of(data), _deps(frame.deps), tuple(frame.problems))
        if rule.stored:
            self.store.put(self._digests[id], data)
        self._hold(id, value, len(data))
        if self._since is not None:
            self._since.append(id)
        return value

    def _take(self, id: int, digest: bytes, deps: bytes, problems: tuple[Problem, ...]) -> None:
        self._settle(id, digest)
        self._deps[id] = deps
        if problems:
            self._problems[id] = codec.dump(problems)
        else:
            self._problems.pop(id, None)

    def _rule(self, id: int) -> tuple[Rule[Any], list[str]]:
        name = self._names[id]
        return RULES[name.partition(SEPARATOR)[0]], key_of(name)

    def _load(self, id: int) -> Any:
        """A value that is up to date and not at hand: from the store, else made again."""
        rule, _ = self._rule(id)
        data = self.store.get(self._digests[id]) if rule.stored else None
        if data is not None:
            try:
                value = rule.load(data)
            except codec.Unreadable:
                return self._make(id)
            self._hold(id, value, len(data))
            return value
        return self._make(id)

    def _hold(self, id: int, value: Any, size: int) -> None:
        before = self._values.pop(id, None)
        self._size += size - (before[1] if before else 0)
        self._values[id] = (value, size)
        while self._size > AT_HAND and len(self._values) > 1:
            _, (_, gone) = self._values.popitem(last=False)
            self._size -= gone

    def _said(self, id: int) -> str:
        return " ".join(self._names[id].split(SEPARATOR))

    # Work done elsewhere

    def made_here(self, names: Sequence[str], wanted: Callable[[str], bool]) -> list[Made]:
        """Make some values; gives everything that was made on the way, each after what it looked up. Bytes come with what
        is stored, and with `wanted` values.
        """
        self.store.drop_new()
        self._since = []
        for name in names:
            self.note(name)
        made, self._since = list(dict.fromkeys(self._since)), None
        return [self._sent(id, wanted(self._names[id])) for id in made]

    def _sent(self, id: int, wanted: bool) -> Made:
        rule, _ = self._rule(id)
        data = self.store.get(self._digests[id]) if rule.stored else None
        if data is None and (rule.stored or wanted):
            held = self._values.get(id)
            data = rule.dump(held[0] if held is not None else self._load(id))
        deps = tuple(self._names[dep] for dep in _ids(self._deps[id] or b""))
        problems = codec.load(self._problems[id]) if id in self._problems else ()
        return Made(self._names[id], self._digests[id], deps, problems, data)

    def take_over(self, made: Made) -> bytes | None:
        """Take a value over that was made elsewhere from the same inputs; gives its bytes, where these came along.

        Raises LookupError where it looked up what isn't up to date here, and where it isn't what it says to be.
        """
        name, digest, deps, problems, data = made
        if name.partition(SEPARATOR)[0] not in RULES or (data is not None and digest_of(data) != digest):
            raise LookupError(f"what was made of {name!r} came damaged")
        ids = dict.fromkeys(self._known(dep) for dep in deps)
        if not all(self._state[dep] for dep in ids):
            raise LookupError(f"{name!r} was made from what isn't known here")
        id = self._ids.get(name)
        if id is None:
            id = self._add(name)
        if not self._state[id]:
            self._take(id, digest, _deps(ids), problems)
            if data is not None and RULES[name.partition(SEPARATOR)[0]].stored:
                self.store.put(digest, data)
        return data

    def _known(self, name: str) -> int:
        """The id of what was looked up elsewhere; inputs are observed here too, whoever observed them there."""
        id = self._ids.get(name)
        if id is None:
            id = self._add(name)
        if not self._state[id] and (self._deps[id] is not None or name.partition(SEPARATOR)[0] in self._inputs):
            self._bring_up(id)
        return id

    def input_digests(self, made: Iterable[Made]) -> dict[str, bytes]:
        """The digests of all inputs that some values looked up directly."""
        names = {dep for one in made for dep in one[2] if dep.partition(SEPARATOR)[0] in self._inputs}
        return {name: self._digests[self._ids[name]] for name in sorted(names)}

    # Storing

    def save(self, only_current: bool) -> None:
        """Store the graph: with `only_current` without what nobody asked for in this session."""
        kept = [id for id in range(len(self._names)) if self._state[id] or (not only_current and self._is_known(id))]
        new = {id: number for number, id in enumerate(kept)}
        deps = bytearray()
        ends = array("q")
        for id in kept:
            own = self._deps[id]
            if own is not None and all(dep in new for dep in _ids(own)):
                deps += array("i", (new[dep] for dep in _ids(own))).tobytes()
                ends.append(len(deps))
            else:
                ends.append(-1)
        graph = (
            self.revision,
            "\0".join(self._names[id] for id in kept).encode("utf-8", "surrogatepass"),
            b"".join(self._digests[id].ljust(20, b"\0") for id in kept),
            array("q", (self._changed[id] for id in kept)).tobytes(),
            array("q", (self._made[id] for id in kept)).tobytes(),
            bytes(deps),
            ends.tobytes(),
            {new[id]: data for id, data in self._problems.items() if id in new},
            self.notes,
        )
        used = {self._digests[id] for id in kept}
        self.store.save(marshal.dumps(graph, 2), used)

    def _is_known(self, id: int) -> bool:
        return self._deps[id] is not None or self._names[id].partition(SEPARATOR)[0] in self._inputs

    def _restore(self) -> None:
        """The graph as it was stored. It is sealed, so it is as this program wrote it."""
        if self.store.index is None:
            return
        revision, names, digests, changed, made, deps, ends, problems, notes = marshal.loads(self.store.index)
        self.revision = revision + 1
        self._names = names.decode("utf-8", "surrogatepass").split("\0") if names else []
        self._ids = dict(zip(self._names, range(len(self._names)), strict=True))
        self._digests = [digests[at : at + 20] for at in range(0, len(digests), 20)]
        self._changed.frombytes(changed)
        self._made.frombytes(made)
        limits, start = array("q"), 0
        limits.frombytes(ends)
        for end in limits:
            self._deps.append(None if end < 0 else deps[start:end])
            start = max(start, end)
        self._problems = problems
        self.notes = notes
        self._state = bytearray(len(self._names))


def _ids(deps: bytes) -> "array[int]":
    found = array("i")
    found.frombytes(deps)
    return found


def _deps(ids: Iterable[int]) -> bytes:
    return array("i", ids).tobytes()
