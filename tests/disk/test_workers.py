"""Work behind an executor comes back whole and in order, whatever becomes of those who do it."""

from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from typing import Any

import pytest

from sitegen.disk import workers
from sitegen.disk.workers import AHEAD, Elsewhere, spread, workers_for

PIECES = list(range(3 * AHEAD))


def there(piece: int) -> tuple[str, int]:
    """What others make of a piece; the test can tell it from what is made here."""
    return "there", piece


def here(piece: int) -> tuple[str, int]:
    return "here", piece


class Breaking(Executor):
    """Takes pieces; from the one numbered `last` on it does `what` it does when its connection is gone."""

    def __init__(self, last: int, what: Callable[[], "Future[Any]"]) -> None:
        self.last, self.what, self.waiting, self.most = last, what, 0, 0

    def submit(self, task: Callable[..., Any], /, *given: Any, **_: Any) -> "Future[Any]":
        if given[0] >= self.last:
            return self.what()
        future: Future[Any] = Future()
        future.set_result(task(*given))
        return future


def refuse() -> "Future[Any]":
    raise RuntimeError("connection lost")


def fail() -> "Future[Any]":
    future: Future[Any] = Future()
    future.set_exception(ValueError("another release"))
    return future


def cancel() -> "Future[Any]":
    future: Future[Any] = Future()
    future.cancel()
    return future


def time_out() -> "Future[Any]":
    future: Future[Any] = Future()
    future.set_exception(TimeoutError())
    return future


def test_what_others_make_comes_in_order() -> None:
    """With any executor every piece is made there, and the results stand in the order of the pieces."""
    with ThreadPoolExecutor(3) as executor:
        others = Elsewhere(executor, there, lambda: True)
        assert list(spread(here, PIECES, workers_for(5, others))) == [("there", piece) for piece in PIECES]
    assert others.reasons == []


@pytest.mark.parametrize("broken", [refuse, fail, cancel, time_out])
def test_what_others_do_not_bring_is_made_here(broken: Callable[[], "Future[Any]"]) -> None:
    """An executor that breaks after ten pieces, in any way: no piece is lost, doubled or out of place, and the reason is told."""
    others = Elsewhere(Breaking(10, broken), there, lambda: True)
    made = list(spread(here, PIECES, others))
    assert made == [("there" if piece < 10 else "here", piece) for piece in PIECES]
    assert others.reasons and set(others.reasons) <= {
        "connection lost",
        "another release",
        "TimeoutError",
        "the connection was lost",
    }


def test_nobody_left_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pieces that nobody works on are waited for while somebody is there, and then made here."""
    monkeypatch.setattr(workers, "PATIENCE", 0.01)
    asked = iter([True, True, False])
    others = Elsewhere(Breaking(5, Future), there, lambda: next(asked))
    assert list(spread(here, PIECES, others)) == [("there" if piece < 5 else "here", piece) for piece in PIECES]
    assert others.reasons[0] == "no worker is left" and next(asked, None) is None


def test_few_pieces_are_on_their_way_at_a_time() -> None:
    """However much there is to do, no more results than a bound wait in memory; what isn't wanted any more is called off."""
    sent: list[Future[Any]] = []

    def hold() -> "Future[Any]":
        sent.append(Future())
        if len(sent) <= 2:
            sent[-1].set_result(("there", len(sent) - 1))
        return sent[-1]

    made = spread(here, PIECES, Elsewhere(Breaking(0, hold), there, lambda: True))
    assert (next(made), next(made)) == (("there", 0), ("there", 1))
    assert len(sent) == AHEAD + 1
    made.close()  # type: ignore[attr-defined]
    assert [future.cancelled() for future in sent] == [False, False] + [True] * (AHEAD - 1)


def test_a_fault_of_the_work_itself_comes_up() -> None:
    """What fails there and here alike is no matter of the cluster: it is raised as if there were none."""

    def wrong(piece: int) -> tuple[str, int]:
        raise ZeroDivisionError(piece)

    with pytest.raises(ZeroDivisionError):
        list(spread(wrong, PIECES, Elsewhere(Breaking(0, fail), wrong, lambda: True)))
