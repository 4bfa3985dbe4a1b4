"""Names of files, searched for in order instead of gone through."""

from hypothesis import given
from hypothesis import strategies as st

from sitegen.records.names.file_names import among, below

NAMES = st.lists(st.from_regex(r"[a-b.\-/0]{1,5}", fullmatch=True), unique=True, max_size=12).map(sorted)


@given(NAMES, st.sampled_from(["a", "a/b", "b.", "-"]))
def test_below_a_folder_is_what_begins_with_it(names: list[str], folder: str) -> None:
    """All names anywhere below it, in order, and none that only begins alike."""
    assert list(below(names, folder)) == [name for name in names if name.startswith(f"{folder}/")]


@given(NAMES, st.from_regex(r"[a-b.\-/0]{1,2}", fullmatch=True))
def test_a_name_is_found_exactly_where_it_is(names: list[str], name: str) -> None:
    """Whatever stands beside it."""
    assert among(names, name) is (name in names)
