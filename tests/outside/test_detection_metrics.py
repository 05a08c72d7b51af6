"""How proposals are judged, against a published worked example and values derived from it."""

import math

import numpy as np
import pytest

from fecallab.domain.errors import BadInput
from fecallab.domain.finding import Findings, average_precision, findings_at, overlap_of
from fecallab.imaging.detect.learn import average_precision as mean_of_precisions
from fecallab.imaging.detect.matching import f1_of


@pytest.fixture
def flags(check_row):
    """The 24 proposals of the published example, strongest first: right or wrong."""
    return check_row("de1")["inputs"]["flags_by_falling_confidence"]


@pytest.fixture
def things(check_row):
    return check_row("de1")["inputs"]["ground_truths"]


@pytest.mark.check_rows("de1")
def test_average_precision_over_every_step(row):
    given = row["inputs"]
    found = average_precision(given["flags_by_falling_confidence"], given["ground_truths"])
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("de2")
def test_average_precision_at_eleven_recalls(row):
    given = row["inputs"]
    found = average_precision(given["flags_by_falling_confidence"], given["ground_truths"], recalls=11)
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("de3")
def test_precision_at_a_rank(row, flags, things):
    found = [findings_at(flags, things, rank).precision for rank in (3, 10, 14, 24)]
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("de4")
def test_recall_at_a_rank(row, flags, things):
    found = [findings_at(flags, things, rank).recall for rank in (3, 14, 24)]
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("de6")
def test_counts_precision_recall_and_f1_in_the_end(row, flags, things):
    found = findings_at(flags, things)
    said = [found.right, found.wrong, found.missed, found.precision, found.recall, found.f1]
    assert said == pytest.approx(row["expected"], abs=row["tolerance"])
    assert f1_of([(found.right, found.wrong, found.missed)]) == pytest.approx(row["expected"][5])
    split = [findings_at(flags[:10], 9), findings_at(flags[10:], 6)]  # over two pictures, added up
    assert f1_of([(one.right, one.wrong, one.missed) for one in split]) == pytest.approx(row["expected"][5])


@pytest.mark.check_rows("de7")
def test_false_proposals_per_picture_beside_what_was_found(row):
    given = row["inputs"]
    found = Findings(given["tp"], given["fp"], given["lesions"] - given["tp"])
    said = [found.recall, found.wrong_per_picture(given["images"])]
    assert said == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("de8")
def test_error_of_the_count(row):
    given = row["inputs"]
    found = Findings(right=0, wrong=given["detected"], missed=given["true"])
    said = [found.count_error, found.relative_count_error]
    assert said == pytest.approx(row["expected"], abs=row["tolerance"])


def test_a_right_count_of_wrong_proposals_shows_by_its_recall(check_row):
    """Derived, the note of de8: the number alone says nothing."""
    assert "recall" in check_row("de8")["note"]
    found = Findings(right=0, wrong=15, missed=15)
    assert (found.count_error, found.recall, found.f1) == (0, 0.0, 0.0)


@pytest.mark.check_rows("de9")
def test_overlap_of_two_boxes(row):
    a, b = row["inputs"]["a"], row["inputs"]["b"]
    for one, other in ((a, b), (b, a)):
        assert overlap_of(tuple(one), tuple(other)) == pytest.approx(row["expected"], abs=row["tolerance"])
    assert overlap_of(tuple(a), tuple(a)) == 1.0


def test_the_mean_that_learning_compares_by_is_the_published_one_without_raising(flags):
    """Derived: where precision never rises again and everything is found, both are the same number."""
    falling = [1, 1, 0, 1, 0, 0]
    scores = -np.arange(len(falling), dtype=float)
    assert mean_of_precisions(scores, np.array(falling, bool)) == pytest.approx(average_precision(falling, 3))
    told = np.array(flags, bool)
    raw = mean_of_precisions(-np.arange(len(told), dtype=float), told) * told.sum() / 15
    assert raw <= average_precision(flags, 15)


def test_what_cannot_be_is_refused():
    with pytest.raises(BadInput, match="2 things were met"):
        findings_at([1, 1], things=1)
    with pytest.raises(BadInput, match="no area"):
        overlap_of((0, 0, 0, 5), (0, 0, 1, 1))
    with pytest.raises(BadInput, match="0 pictures"):
        Findings(1, 1, 1).wrong_per_picture(0)
    assert Findings(0, 0, 0).precision == Findings(0, 0, 0).relative_count_error == 0.0
    assert math.isinf(Findings(0, 2, 0).relative_count_error)
