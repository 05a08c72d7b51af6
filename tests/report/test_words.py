"""Numbers and records in words."""

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.animal import Weighing
from fecallab.domain.counting import field_density
from fecallab.domain.exam import Mark, Preparation, Reading
from fecallab.domain.plan import Plan
from fecallab.domain.sample import Sample
from fecallab.report import figures, words
from fecallab.report.model import CountRow


def plain(text):
    return text.replace(figures.GAP, " ").replace(figures.THIN, " ")


def weighed(day, grams, state=""):
    return Weighing(animal="A1", weighed_at=datetime(2026, 3, day, 9), mass_g=grams, state=state)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (0.5, "0.5"),
        (1 / 3, "0.333"),
        (12.345, "12.3"),
        (99.96, "100"),
        (1e6, "1 000 000"),
        (1e-5, "0.00001"),
    ],
)
def test_numbers_keep_three_figures_and_no_exponent(value, text):
    assert plain(figures.number(value)) == text


@given(st.floats(min_value=1e-6, max_value=1e9))
def test_a_written_number_is_within_half_a_per_cent_of_the_number(value):
    written = float(figures.number(value).replace(figures.THIN, ""))
    assert written == pytest.approx(value, rel=0.0051)


@given(*[st.just(0.0) | st.floats(min_value=1e-6, max_value=1e6)] * 2)
def test_a_written_interval_keeps_its_order_and_a_limit_above_zero(a, b):
    low, high = sorted((a, b))
    texts = figures.interval((low, high)).replace(figures.THIN, "").split(" to ")
    assert float(texts[0]) <= float(texts[1]) * 1.01
    assert (float(texts[0]) == 0) == (low == 0)


@given(st.floats(min_value=1e-5, max_value=1))
def test_a_share_above_zero_is_never_written_as_zero(share):
    assert float(figures.percent(share).rstrip(f"%{figures.THIN}")) > 0


def test_days_are_spelled_out_and_stay_on_one_line():
    assert figures.day(date(2026, 3, 4)) == "4\u00a0March\u00a02026"
    assert plain(figures.moment(datetime(2026, 3, 4, 7, 5))) == "4 March 2026, 07:05"


def test_a_weight_is_compared_with_the_one_before_and_the_first():
    now, trend = words.weight_trend([weighed(20, 90.0), weighed(1, 100.0), weighed(10, 95.0, "gravid")])
    assert plain(now) == "90 g on 20 March 2026"
    assert plain(trend) == (
        "5 g (5.3 %) less than on 10 March 2026 (gravid); 10 g (10 %) less than on 1 March 2026"
    )


def test_one_weighing_has_no_trend_and_none_says_nothing():
    assert words.weight_trend([weighed(1, 18.25)])[1] == "the only weighing"
    assert words.weight_trend([]) == ("", "")
    assert "the same as on" in words.weight_trend([weighed(1, 50), weighed(2, 50)])[1]


def test_like_fields_share_a_line_and_other_readings_keep_their_own():
    fields = [Reading(objective=40, field_number=20, counts={"flagellate": n}) for n in (0, 2, 0, 1, 0)]
    sweep = Reading(kind="sweep", objective=10, cover_share=0.4)
    odd = Reading(objective=40, field_number=20, counts={"flagellate": 1}, remark="edge of the glass")
    preparation = Preparation(method="direct_saline_smear", readings=(*fields, sweep, odd))
    lines = words.reading_lines(preparation, {"flagellate": "flagellates"})
    assert [line.what for line in lines] == ["fields 1 to 5", "sweep 1", "field 6"]
    assert lines[0].field_by_field == ("flagellates: 0, 2, 0, 1, 0",)
    assert lines[0].cover_share == pytest.approx(5 * 0.19634954 / 484)  # circle of 0.5 mm on 484 mm2
    assert words.seen_words(lines[1].seen) == "none seen"
    assert lines[2].remark == "edge of the glass"


def test_unsure_marks_keep_a_line_of_their_own_in_a_run():
    marks = (Mark(x_px=1, y_px=1, name="oxyurid", sure=False), Mark(x_px=9, y_px=9, name="oxyurid"))
    readings = (Reading(objective=10, marks=marks), *(Reading(objective=10) for _ in range(4)))
    line = words.reading_lines(Preparation(method="simple_flotation", readings=readings), {})[0]
    assert line.field_by_field == ("oxyurid: 1, 0, 0, 0, 0", "oxyurid (unsure): 1, 0, 0, 0, 0")


def test_freshness_names_both_ends_and_the_older_one_counts():
    sample = Sample(
        animal="A1",
        passed_from=datetime(2026, 3, 4, 6),
        passed_to=datetime(2026, 3, 4, 8, 30),
        collected_at=datetime(2026, 3, 4, 8, 30),
    )
    text = plain(words.freshness(sample, datetime(2026, 3, 4, 9)))
    assert text == "between 30 minutes and 3 hours old when read; the older end counts"
    assert plain(words.passed(sample)) == "4 March 2026, between 06:00 and 08:30"


def test_a_plan_is_given_in_the_vets_numbers_and_nothing_is_added():
    plan = Plan(case="C1", vet="Dr Imaginary", written_on=date(2026, 3, 9), goal="watch, no treatment")
    assert [plain(value) for _, value in words.plan_lines(plan)] == [
        "9 March 2026 by Dr Imaginary",
        "watch, no treatment",
        "none",
    ]
    treated = Plan(
        case="C1", vet="V", written_on=date(2026, 3, 9), drug="d", dose_mg_per_kg="12.50", doses_planned=3,
        interval_days=14,
    )  # fmt: skip
    assert ("dose", "12.50 mg per kg") in words.plan_lines(treated)
    assert ("doses", "3, 14 days apart") in words.plan_lines(treated)


def test_counts_of_a_sweep_and_of_fields_are_never_mixed_up():
    row = CountRow(organism="ciliates", where="P1", total=2, density=field_density([0]))
    assert words.seen_in(row) == "2 in all, 0 of them in the 1 field counted one by one"
    assert plain(words.mean_per_field(row)) == "0 (95 % interval 0 to 3.69)"  # exact limit of one zero
    nothing = CountRow(organism="ciliates", where="P1", total=0, density=field_density([0, 0, 0]))
    assert words.seen_in(nothing) == "0 in 3 fields"
    assert plain(words.mean_per_field(nothing)) == "none seen; under 0.999 per field (one-sided 95 % limit)"
    swept = CountRow(organism="ciliates", where="P1", total=2, unsure=1)
    assert words.seen_in(swept) == "2; 1 more unsure, not counted"


def test_the_model_behind_an_interval_is_named():
    clumped = field_density([0, 0, 0, 0, 0, 12, 0, 0, 9, 0, 0, 14])
    assert words.model_of(clumped).startswith("negative binomial, since the fields are clumped; variance is")
    assert words.model_of(field_density([4])) == "Poisson, exact"
