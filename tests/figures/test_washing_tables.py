"""What washing did, as a table: its note says which falls are real, as the sentences on each product do."""

import pytest
from demo_records import demo_findings
from small_records import edition, small_findings, small_publication

from sitegen.figures.wording.changes import change_sentences
from sitegen.figures.wording.washing import washing_tables
from sitegen.findings.found import RoundFindings


@pytest.mark.parametrize("findings", [*demo_findings().values(), small_findings(small_publication())])
def test_the_note_names_the_real_falls_and_no_others(findings: RoundFindings) -> None:
    """A product is named where, and only where, its own sentence says "a real fall"."""
    english = edition(small_publication())
    for table in washing_tables(english, findings):
        last = {c.product: c for c in findings.changes if english.head(c.after.protocol) == table.caption}
        falls = {
            product
            for product, changed in last.items()
            if any("a real fall" in sentence for sentence in change_sentences(english, changed))
        }
        named = table.note.partition("A real fall: ")[2].partition(". Any other")[0]
        assert bool(named) == bool(falls), (table.note, falls)
        assert all(english.product(product) in named for product in falls)
        assert not any(english.product(product) in named for product in last.keys() - falls)
