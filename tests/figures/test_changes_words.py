"""What washing did, in words that the person who held the cloth would sign."""

from decimal import Decimal

import pytest
from builders import SMALL
from small_records import edition, small_findings, small_publication

from sitegen.figures.charts.charts import finding_title
from sitegen.figures.charts.decline_chart import decline_figures
from sitegen.figures.wording.changes import change_sentences
from sitegen.figures.wording.grade_scatter import grade_scatter_sentences
from sitegen.figures.wording.graders import grader_sentences
from sitegen.figures.wording.scatter import scatter_sentences
from sitegen.records.publication import Publication

ROUND, SPRAY = "rounds/trousers/round.yaml", "rounds/trousers/spray.csv"
STAGES = ("new", "after 3 washes", "after 6 washes")


def washed(
    tarn: tuple[str, ...],
    fenn: tuple[str, ...],
    *,
    wanted: str = "wanted: {spray: 3}\n",
    marks: str = "123",
    further: str = "",
) -> Publication:
    """A round of two products, three stages; grades as written, one a specimen; a space is a specimen not graded."""
    rows = [
        f"{product};{stage};{mark};{grade};2026-08-12;ib"
        for product, grades in (("tarn", tarn), ("fenn", fenn))
        for stage, given in zip(STAGES, grades, strict=True)
        for mark, grade in zip(marks.ljust(len(given)), given, strict=False)
        if grade != " "
    ]
    table = (
        "product;stage;specimen;value;date;grader\n"
        + "\n".join(row.replace("; ;", ";;") for row in rows)
        + "\n"
        + further
    )
    text = SMALL[ROUND].replace("stages: [new, after 3 washes]", f"stages: [{', '.join(STAGES)}]") + wanted
    return small_publication({SPRAY: table, ROUND: text})


def said(publication: Publication, product: str, tag: str = "en") -> str:
    """Everything that is said of a product's change."""
    words = edition(publication, tag)
    found = (c for c in small_findings(publication).changes if c.product == product)
    return " ".join(s for changed in found for s in change_sentences(words, changed)).replace("\u00a0", " ")


def test_a_fall_that_all_can_see_is_said_to_be_real() -> None:
    """5, 5, 5 to 1, 2, 1: how many, how far, how sure, and when the wanted grade was lost."""
    text = said(washed(("555", "544", "445"), ("555", "323", "121")), "fenn")
    assert "after 6 washes: 3 of 3 specimens graded lower than when new, the middle one by 4 grades." in text
    assert "That is a real fall: by chance it would come up in fewer than 1 of 100 such rounds." in text
    assert "fell below grade 3 after about 4 washes" in text and "95 % confidence" in text


def test_a_grade_less_may_be_chance_and_was_kept() -> None:
    """One specimen of three a grade lower: no proof of anything, and every specimen kept the wanted grade."""
    text = said(washed(("555", "554", "554"), ("555", "323", "121")), "tarn")
    assert "1 of 3 specimens graded lower than when new. That may be chance." in text
    assert "Every specimen kept grade 3 or better over 6 washes." in text


def test_nothing_changed_a_rise_and_other_first_stages() -> None:
    """Equal grades, a rise, and a first stage that isn't new are each said in words that are true."""
    assert "3 specimens, all graded as when new." in said(washed(("444", "444", "444"), ("555", "323", "121")), "tarn")
    assert "0 of 3 specimens graded lower than when new, 3 higher. That is a real rise" in said(
        washed(("111", "333", "555"), ("555", "323", "121")), "tarn"
    )
    assert "graded lower than after 3 washes" in said(washed(("   ", "555", "444"), ("555", "323", "121")), "tarn")


def test_a_missing_last_stage_is_said() -> None:
    """Graded to three washes only: that stage is named as the last, and that the further one is missing."""
    text = said(washed(("555", "444", "   "), ("555", "323", "121")), "tarn")
    assert "after 3 washes: 3 of 3 specimens" in text and "Nothing was measured after 6 washes." in text
    assert "over 3 washes" in text


def test_specimens_without_marks_are_not_paired() -> None:
    """No specimen's loss is claimed: the two middle grades are given, and that the pieces can't be matched."""
    text = said(washed(("555", "544", "445"), ("555", "323", "121"), marks=""), "fenn")
    assert "grade 5 when new, grade 1 after 6 washes, on specimens that can't be matched" in text.replace("’", "'")
    assert "lower than" not in text


def test_one_specimen_below_is_not_kept_in_sentence_and_title() -> None:
    """Of two products one has one specimen below grade 3: the sentence says which stage, the chart's title counts one."""
    publication = washed(("555", "554", "544"), ("333", "333", "332"))
    assert "1 of 3 specimens below grade 3 after 6 washes." in said(publication, "fenn")
    (figure,) = decline_figures(edition(publication), small_findings(publication))
    assert "1 of 2 kept grade 3 or better in every specimen" in figure.title


def test_without_a_wanted_grade_nothing_is_said_of_keeping_it() -> None:
    """No wanted grade, no sentence about one, and a title without a count."""
    publication = washed(("555", "554", "544"), ("333", "333", "332"), wanted="")
    assert "kept" not in said(publication, "tarn")
    (figure,) = decline_figures(edition(publication), small_findings(publication))
    assert "how the grade falls" in figure.title


def test_it_says_on_what_the_scatter_rests_or_that_it_is_unknown() -> None:
    """Three stages of two products are enough to pool, two stages aren't; each is said once."""
    publication = washed(("555", "544", "445"), ("555", "323", "121"))
    (known,) = grade_scatter_sentences(edition(publication), small_findings(publication))
    assert "as 18 specimens in 6 groups show" in known
    small = small_publication()
    (unknown,) = grade_scatter_sentences(edition(small), small_findings(small))
    assert "too few specimens" in unknown and "at least 4 specimens of each product" in unknown


def test_three_graders_are_compared_pair_by_pair() -> None:
    """Nobody is left out: three pairs, of which one never met; whose grades stand in is said."""
    further = "tarn;new;1;4;2026-08-12;xy\ntarn;new;2;5;2026-08-12;xy\nfenn;new;1;5;2026-08-12;zz\n"
    publication = washed(("55 ", "544", "445"), ("555", "323", "121"), further=further + "tarn;new;3;4;2026-08-12;xy\n")
    text = " ".join(grader_sentences(edition(publication), small_findings(publication)))
    assert "ib and xy gave the same grade to 1 of 2 specimens" in text
    assert "ib and zz gave the same grade to 1 of 1 specimens" in text
    assert "xy and zz graded no specimen both" in text
    assert "They disagreed on: Tarn 3 1: 5 and 4." in text
    assert "1 of 3 specimens was graded by another person than the others" in text


@pytest.mark.parametrize("tag", ["de", "nl", "fr"])
def test_other_languages_say_it_too(tag: str) -> None:
    """No English word is left in a sentence of a translated edition."""
    text = said(washed(("555", "544", "445"), ("555", "323", "121")), "fenn", tag)
    assert text and "specimen" not in text and "chance" not in text


def weighed(new: tuple[str, ...], worn: tuple[str, ...]) -> str:
    """What is said of masses before and after three washes; of masses less is better."""
    rows = [
        f"tarn,{stage},{mark},{value},g,2026-08-11,"
        for stage, values in (("new", new), ("after 3 washes", worn))
        for mark, value in enumerate(values, 1)
    ]
    table = "product,stage,specimen,value,unit,date,note\n" + "\n".join(rows) + "\n"
    publication = small_publication(
        {
            "rounds/trousers/mass.csv": table,
            ROUND: SMALL[ROUND].replace(
                "mass, {protocol", "{protocol: mass, stages: [new, after 3 washes]}, {protocol"
            ),
        }
    )
    words = edition(publication)
    found = (c for c in small_findings(publication).changes if c.share is not None)
    return " ".join(s for changed in found for s in change_sentences(words, changed)).replace("\u00a0", " ")


def test_what_gets_worse_is_not_kept() -> None:
    """A mass that grows by a third isn't "133 % kept", and a reading of 0 leaves no share; both are said."""
    assert "133 % of the value when new" in weighed(("300", "301", "299"), ("400", "401", "399"))
    assert "kept" not in weighed(("300", "301", "299"), ("400", "401", "399"))
    assert "no share of the value when new, since a reading is 0" in weighed(("300", "301"), ("0", "1"))


def test_a_title_names_nobody_where_several_share_an_end() -> None:
    """Two at the same grade: the title gives the grade, and neither as the first."""
    publication = washed(("555", "555", "555"), ("555", "555", "555"))
    last = next(m for m in small_findings(publication).measured if m.measure.text == "spray after 6 washes")
    assert finding_title(edition(publication), last).endswith("grade 5 throughout")
    parted = small_findings(washed(("555", "555", "555"), ("555", "444", "111"))).measured
    title = finding_title(edition(publication), next(m for m in parted if m.measure.text == "spray after 6 washes"))
    assert "(Tarn 3)" in title and "(Fenn" in title


def test_two_middle_grades_are_not_written_as_a_grade_between_them() -> None:
    """Of 4 and 5 the middle is "4 or 5"; a half grade keeps its dash."""
    words = edition(small_publication())
    assert words.grade((Decimal(4), Decimal(5))) == "4 or 5"
    assert "4\u20135" in words.grade((Decimal("4.5"),))


def test_grades_given_once_are_spoken_of_once() -> None:
    """One specimen each: the sentence on how grades scatter says it all; that on quantities measured once stays silent."""
    publication = washed(("5", "4", "4"), ("5", "3", "1"), marks="1")
    found = small_findings(publication)
    assert [text for text in scatter_sentences(edition(publication), found) if "Spray" in text or "spray" in text] == []
    assert len(tuple(grade_scatter_sentences(edition(publication), found))) == 1
