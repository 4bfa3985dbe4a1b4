"""The state of a sample when it was measured: new, after washes, heated, re-proofed."""

import re

from sitegen.datatypes import dataclass

_FORM = re.compile(r"after ([0-9]{1,3}) wash(?:es)?( and heat)?")


@dataclass(frozen=True, slots=True, order=True)
class Stage:
    """A stage; stages sort in the order in which a sample goes through them.

    Washing alone, washing followed by heat, and a finish put on anew are different stages:
    their readings must never be mixed in one series.
    """

    reproofed: bool = False
    washes: int = 0
    heated: bool = False

    @property
    def only_washed(self) -> bool:
        """Whether it belongs to the series of washing alone: heat and a new finish are another."""
        return not self.reproofed and not self.heated

    @property
    def text(self) -> str:
        """The form in which an author writes it."""
        if self.reproofed:
            return "re-proofed"
        if not self.washes:
            return "new"
        return f"after {self.washes} wash{'' if self.washes == 1 else 'es'}{' and heat' if self.heated else ''}"


NEW = Stage()


def parse_stage(text: str) -> Stage | None:
    """Read `new`, `after N washes`, `after N washes and heat` or `re-proofed`; None for anything else.

    >>> parse_stage("after 3 washes").washes
    3
    """
    words = " ".join(text.split())
    if words == "new":
        return NEW
    if words == "re-proofed":
        return Stage(reproofed=True)
    found = _FORM.fullmatch(words)
    if not found or int(found[1]) == 0:
        return None
    return Stage(washes=int(found[1]), heated=bool(found[2]))
