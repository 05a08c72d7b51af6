"""Printed sheets: what stands on them, that it can be read, and that nothing is printed that must not be."""

import re
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet_pages import outside, printed_over, text_of
from sheet_story import NOW, TODAY, make_records

from fecallab.domain.errors import BadInput, Reason
from fecallab.records.store import open_records
from fecallab.reference.adequacy import adequacy_conditions
from fecallab.report import sheet_fonts
from fecallab.report.dose_card import draw_dose_card
from fecallab.report.sheet_bench import draw_bench_sheet
from fecallab.report.sheet_build import bench_sheet, preparations_for, questions_of, sheet_stamp
from fecallab.report.sheet_care import draw_care_sheet
from fecallab.report.sheet_doses import dose_block
from fecallab.report.sheet_model import PAPERS, BenchBlock, DoseBlock
from fecallab.report.sheet_paper import Paper
from fecallab.report.sheet_today import care_sheet, reactions_to_watch

STAMP = sheet_stamp(TODAY)
A_VOLUME = re.compile(r"\d ?ml\b")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return make_records(tmp_path_factory.mktemp("sheets") / "records")


@pytest.fixture
def store(folder):
    with open_records(folder) as records:
        yield records


def bench(store, names=(), paper="a4", **more):
    sheet = bench_sheet(store, TODAY, names, columns=("animal", "sample", "organism"), **more)
    return draw_bench_sheet(sheet, paper).content()


def card(store, case, paper="a4", at=NOW):
    return draw_dose_card(dose_block(store.case_file(case), at), STAMP, paper).content()


@pytest.mark.parametrize("paper", PAPERS)
def test_every_sheet_lies_within_what_a_printer_reaches_and_prints_nothing_over_another(store, paper):
    everyone = [animal.code for animal in store.animals()]
    sheets = {
        "microscope": bench(store, everyone, paper),
        "care": draw_care_sheet(care_sheet(store, NOW), paper).content(),
        **{case: card(store, case, paper) for case in ("C1", "C2", "C3", "C4", "C5")},
    }
    for name, content in sheets.items():
        assert outside(content) == [], name
        assert printed_over(content) == [], name


def test_the_papers_are_a4_and_letter(store):
    from sheet_pages import pages_of

    sizes = [pages_of(card(store, "C1", paper))[0].get_size() for paper in ("a4", "letter")]
    assert sizes[0] == pytest.approx((595.28, 841.89), abs=0.1)
    assert sizes[1] == pytest.approx((612, 792), abs=0.1)


def test_the_same_sheet_on_the_same_day_has_the_same_bytes(store):
    assert card(store, "C1") == card(store, "C1")


def test_the_microscope_sheet_is_for_those_whose_next_stool_counts(store):
    sheet = bench_sheet(store, TODAY)
    assert [block.animal for block in sheet.blocks] == ['Barley „die Große" Ёжик <b>']
    (block,) = sheet.blocks
    assert (block.method, block.targets, block.counts_from) == (
        "direct_saline_smear",
        ("flagellate",),
        TODAY - timedelta(days=23),
    )


def test_nothing_due_says_what_to_type(store):
    with pytest.raises(BadInput, match="sheet microscope NAME"):
        bench_sheet(store, TODAY - timedelta(days=26), ahead_days=0)


def test_the_questions_on_paper_are_those_of_the_adequacy_table(store):
    text = text_of(bench(store, ["Saffron"]))
    asked = [c.question for c in adequacy_conditions() if c.route == "flotation-eggs"]
    assert len(asked) == 10
    for question in asked:
        assert question in text


def test_a_sample_that_is_recorded_brings_its_code_and_its_passing(store):
    text = text_of(bench(store, ["S1"]))
    assert "S1" in text
    assert "26 February 2026, between 07:30 and 08:30" in text
    assert "passed on" not in text
    assert "soft stool, 1.2 g, kept at room temperature" in text
    assert "whole stool used" not in text


def test_a_chamber_has_boxes_for_its_grids_and_their_sum(store):
    text = text_of(bench(store, ["Saffron"], methods=["mcmaster"]))
    assert "grid 1 grid 2 grid 3 grid 4 in all" in text
    assert "sweep" not in text


def test_an_animal_without_a_case_gets_a_wet_mount_and_a_float(store):
    with store.write(by="Mara Quell", now=NOW) as writer:
        from fecallab.domain.animal import Animal

        writer.add(Animal(name="Newcomer", species="Boa constrictor", host_group="snake"))
    blocks = bench_sheet(store, TODAY, ["Newcomer"]).blocks
    assert [(b.method, b.part) for b in blocks] == [
        ("direct_saline_smear", "1 of 2"),
        ("simple_flotation", "2 of 2"),
    ]
    assert all(1 <= len(b.organisms) <= 3 for b in blocks)


def test_targets_come_first_among_the_rows_and_other_preparations_can_be_asked_for(store):
    (block,) = bench_sheet(store, TODAY, ["Saffron"], methods=["mcmaster"]).blocks
    assert block.chamber
    assert block.organisms[0] == "oxyurid"
    assert {q.number for q in block.questions} >= {"stool", "in all", "read", "gravity", "stood"}


def test_a_tubs_sheet_says_that_it_confirms_no_single_animal(store):
    assert "confirms no single animal" in text_of(bench(store, ["Tub 7"]))


@pytest.mark.parametrize(
    ("needs", "methods"),
    [
        ({("coccidian", "oocyst"): False}, ["simple_flotation"]),
        ({("rhabditid", "egg"): False, ("rhabditid", "larva"): False}, ["simple_flotation", "baermann"]),
        ({("trematode", "egg"): False}, ["sedimentation"]),
        ({("flagellate", "trophozoite"): True}, ["urine_wet_mount"]),
        ({("cryptosporidium", "oocyst"): False}, []),
        ({("flagellate", "trophozoite"): False, ("ciliate", "trophozoite"): False}, ["direct_saline_smear"]),
    ],
)
def test_preparations_are_those_that_can_show_every_stage(needs, methods):
    assert list(preparations_for(needs)) == methods


def test_questions_stand_once_though_two_routes_ask_them():
    routes = preparations_for({("coccidian", "oocyst"): False, ("oxyurid", "egg"): False})["simple_flotation"]
    assert len(routes) == 2
    texts = [question.text for question in questions_of(routes)]
    assert len(texts) == len(set(texts)) == 10


def test_signs_of_the_trade_and_other_scripts_are_printed(store):
    assert "Ёжик" in text_of(bench(store, ["A2"]))
    pdf = Paper("a4", "letters", TODAY)
    pdf.add_page()
    pdf.put(10, 10, "µ × ° ≥ „quoted“ ‘so’ ½ Ωμέγα Ząb")
    assert "µ × ° ≥ „quoted“ ‘so’ ½ Ωμέγα Ząb" in text_of(pdf.content())
    assert not pdf.not_printed


def test_a_letter_that_no_font_knows_becomes_a_box_and_is_reported(monkeypatch):
    monkeypatch.setattr(sheet_fonts, "_fonts_here", lambda: ())
    sheet_fonts.font_for.cache_clear()
    pdf = Paper("a4", "letters", TODAY)
    pdf.add_page()
    pdf.put(10, 10, "小亀 A3")
    sheet_fonts.font_for.cache_clear()
    assert "□□ A3" in text_of(pdf.content())
    assert pdf.not_printed == {"小", "亀"}


def test_a_name_too_long_for_its_place_is_cut_not_printed_over_others(store):
    block = BenchBlock(animal="Bartholomew " * 20, code="A1", method="simple_flotation", method_words="float")
    sheet = replace(bench_sheet(store, TODAY), blocks=(block,))
    content = draw_bench_sheet(sheet, "letter").content()
    assert outside(content) == []
    assert printed_over(content) == []
    assert "…" in text_of(content)


def test_the_dose_card_says_the_volume_in_digits_and_words_with_all_that_it_rests_on(store):
    text = text_of(card(store, "C1"))
    for said in (
        "0.16 ml",
        "zero point one six millilitres",
        "322 g on 18 March 2026",
        "fenbendazole",
        "50 mg per kg, by mouth",
        "100 mg per ml",
        "Dr Ilse Varnholt, plan P1, 28 February 2026",
        "dose 2 of at most 2",
        "edge of the plunger at 0.16 ml",
        "do not repeat",
        "wobbling",
    ):
        assert said in text, said


def test_the_delivered_dose_is_that_of_the_marks(store):
    block = dose_block(store.case_file("C1"), NOW)
    assert block.draw_ml == Decimal("0.16")
    delivered = Decimal("0.16") * 100 / Decimal("0.322")
    assert block.delivered.startswith(f"{delivered:.3g} mg per kg")


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("case", "code"), [("C3", "weight-stale"), ("C4", "order-missing")])
def test_a_refused_dose_prints_no_volume_only_the_way_forward(store, case, code, paper):
    block = dose_block(store.case_file(case), NOW)
    text = text_of(draw_dose_card(block, STAMP, paper).content())
    assert code in [reason.code for reason in block.obstacles]
    assert "No dose now" in text
    assert not A_VOLUME.search(text)
    assert all(reason.next for reason in block.obstacles)
    assert "→" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_a_thinned_dose_says_that_it_is_of_the_mixture_and_how_it_is_mixed_and_given(store, paper):
    block = dose_block(store.case_file("C5"), NOW)
    assert block.mixing and block.tube
    content = draw_dose_card(block, STAMP, paper).content()
    text = text_of(content)
    assert "0.31 ml of the mixture" in text
    for line in (*block.mixing, *block.tube):
        assert line in text, line
    assert "A tube in the windpipe kills" in text
    care = text_of(draw_care_sheet(care_sheet(store, NOW, ["Mote"]), paper).content())
    assert "0.31 ml of the mixture" in care
    assert all(line in care for line in block.mixing)
    assert "fenbendazole 100 mg per ml" not in care


def test_a_card_of_two_pages_says_on_both_whose_it_is(store):
    from sheet_pages import pages_of

    content = draw_dose_card(dose_block(store.case_file("C5"), NOW), STAMP, "letter").content()
    pages = pages_of(content)
    assert len(pages) == 2
    for page in pages:
        assert "Mote" in page.get_textpage().get_text_bounded()


def test_fluids_of_the_day_are_worked_out_from_the_plan(store):
    (block,) = care_sheet(store, NOW, ["Mote"]).blocks
    assert block.fluids.startswith("0.62 ml of lactated Ringer in the day")
    assert block.lowest == "at least 18 °C"


def test_earlier_volumes_are_not_printed_on_a_refused_card(store):
    early = NOW - timedelta(days=10)
    text = text_of(card(store, "C1", at=early))
    assert "No dose now" in text
    assert not A_VOLUME.search(text)


@settings(deadline=None, max_examples=15)
@given(
    obstacles=st.lists(
        st.builds(Reason, st.just("x"), st.text(min_size=1, max_size=300), st.text(max_size=300)),
        min_size=1,
        max_size=9,
    )
)
def test_any_list_of_obstacles_fits_on_the_card(obstacles):
    block = DoseBlock(case="C1", animal="Pip", code="A1", obstacles=tuple(obstacles))
    for paper in PAPERS:
        assert outside(draw_dose_card(block, STAMP, paper).content()) == []


def test_many_warnings_and_cautions_still_fit(store):
    block = dose_block(store.case_file("C1"), NOW)
    many = tuple(
        Reason(f"w{n}", f"Warning {n}: " + "it must be read before the dose. " * 4) for n in range(9)
    )
    for paper in PAPERS:
        content = draw_dose_card(replace(block, warnings=many), STAMP, paper).content()
        assert outside(content) == []
        assert printed_over(content) == []
        text = text_of(content)
        assert all(f"Warning {n}:" in text for n in range(9))
        assert "Right animal, drug, strength" in text


def test_a_block_holds_a_volume_or_an_obstacle_never_both():
    with pytest.raises(ValueError, match="either"):
        DoseBlock(case="C1", animal="Pip", code="A1")
    with pytest.raises(ValueError, match="either"):
        DoseBlock(
            case="C1", animal="Pip", code="A1", draw_ml=Decimal("0.1"), obstacles=(Reason("x", "y", "z"),)
        )


def test_todays_care_has_boxes_for_everything_that_is_ordered(store):
    text = text_of(draw_care_sheet(care_sheet(store, NOW), "a4").content())
    for said in (
        "Care on 18 March 2026",
        "0.16 ml (zero point one six millilitres)",
        "6 ml by mouth on dose days",
        "at least 36 °C",
        "lowest at night",
        "cleaning last 4 March 2026",
        "no dose now The weight is 5 days old",
        "coccidian: ask the vet (not treated)",
        "To the vet now, if seen",
        *reactions_to_watch(),
    ):
        assert said in text, said


def test_the_round_goes_by_place(store):
    places = [block.place for block in care_sheet(store, NOW).blocks]
    assert places == ["rack 3", "table 2", "tub 7", "vivarium 4", "warm box"]


def test_a_dose_of_another_day_is_announced_without_a_volume(store):
    sheet = care_sheet(store, NOW - timedelta(days=5), ["Saffron"])
    (block,) = sheet.blocks
    assert block.doses == ()
    assert block.no_dose == (
        "oxyurid: no dose today; weigh, then dose 2 of 2 (fenbendazole), from 18 March 2026",
    )


def test_signs_for_the_vet_are_those_that_the_table_asks_of_this_animal(store):
    from fecallab.reference.signs import signs_for

    text = text_of(bench(store, ["Saffron"]))
    asked = signs_for(store.animal("Saffron"), first=True)
    assert len(asked) >= 8
    assert all(sign.sign in text for sign in asked)


def test_many_animals_go_over_several_pages_and_no_block_is_torn(store):
    from sheet_pages import lines_of, pages_of

    sheet = care_sheet(store, NOW)
    content = draw_care_sheet(replace(sheet, blocks=sheet.blocks * 5), "letter").content()
    assert outside(content) == []
    assert printed_over(content) == []
    for page in pages_of(content):
        lines = [line.text for line in lines_of(page)]
        assert sum("lowest at night" in line for line in lines) == sum(line == "weigh" for line in lines)


def test_a_dose_some_hours_too_early_is_worked_out_for_later_today(store):
    evening = datetime(2026, 3, 18, 20, 0)
    with store.write(by="Mara Quell", now=NOW) as writer:
        from sheet_story import _plan, _positive

        from fecallab.domain.animal import Animal, Weighing
        from fecallab.domain.plan import DoseGiven

        animal = writer.add(
            Animal(name="Twice", species="Pogona vitticeps", host_group="lizard", adult=True, enclosure="v 9")
        )
        case = _positive(writer, animal, "oxyurid", ("egg",), 5)
        plan = _plan(writer, case, 4, interval_days=0.5, doses_planned=6)
        writer.add(Weighing(animal=animal.code, weighed_at=NOW - timedelta(hours=1), mass_g=322))
        writer.add(DoseGiven(plan=plan.code, given_at=NOW - timedelta(hours=1), volume_ml="0.16"))
    block = dose_block(store.case_file(case.code), NOW)
    later = dose_block(store.case_file(case.code), evening)
    assert block.draw_ml == later.draw_ml == Decimal("0.16")
    assert block.warnings[0].code == "too-early"
    assert "not before" in block.warnings[0].text
