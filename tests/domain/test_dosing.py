"""The dose itself: which range, which volume, which syringe."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.dosing import DoseAnswer, DoseRequest, volume_ml, work_out
from fecallab.reference.drugs import dose_facts, drug_rows
from fecallab.reference.taxa import resolve_taxon, suggest_taxon, taxa

FACTS = dose_facts()


def ask(
    animal: str,
    drug: str = "metronidazole",
    dose: Any = 20,
    *,
    weight_g: Any = 420,
    strength: Any = 40,
    **more: Any,
) -> DoseAnswer:
    taxon = resolve_taxon(animal) if animal else None
    request = DoseRequest(
        weight_g=weight_g,
        dose_mg_per_kg=dose,
        concentration_mg_per_ml=strength,
        drug=drug,
        taxon=taxon,
        taxon_text=animal if animal and taxon is None else "",
        near_names=suggest_taxon(animal),
        **more,
    )
    return work_out(request, FACTS)


def codes(answer: DoseAnswer) -> set[str]:
    return {reason.code for reason in answer.reasons}


def warned(answer: DoseAnswer) -> set[str]:
    return {warning.code for warning in answer.warnings}


@pytest.mark.parametrize(
    ("animal", "drug", "hours", "row"),
    [
        ("corn snake", "metronidazole", 48, "metronidazole-corn-snake"),
        ("corn snake", "metronidazole", 72, "metronidazole-corn-snake"),
        ("corn snake", "metronidazole", 336, "metronidazole-reptile"),
        ("yellow rat snake", "metronidazole", 48, "metronidazole-yellow-rat-snake"),
        ("Lampropeltis alterna", "metronidazole", 336, "metronidazole-sensitive-snakes"),
        ("veiled chameleon", "metronidazole", 168, "metronidazole-chameleon"),
        ("green iguana", "metronidazole", 24, "metronidazole-green-iguana"),
        ("bearded dragon", "metronidazole", 336, "metronidazole-reptile"),
        ("leopard gecko", "metronidazole", 336, "metronidazole-reptile"),
        ("Russian tortoise", "metronidazole", 48, "metronidazole-chelonian"),
        ("Russian tortoise", "metronidazole", 336, "metronidazole-chelonian-fortnight"),
        ("bearded dragon", "fenbendazole", 336, "fenbendazole-lizard"),
        ("ball python", "fenbendazole", 336, "fenbendazole-snake"),
        ("Hermann's tortoise", "fenbendazole", 336, "fenbendazole-reptile"),
        ("Hermann's tortoise", "fenbendazole", 24, "fenbendazole-reptile-daily"),
        ("bearded dragon", "sulfadimethoxine", 24, "sulfadimethoxine-bearded-dragon"),
        ("corn snake", "sulfadimethoxine", 24, "sulfadimethoxine-reptile"),
        ("Chelonoidis carbonarius", "toltrazuril", 48, "toltrazuril-tortoise"),
        ("corn snake", "pyrantel", 24, "pyrantel-reptile-three-days"),
        ("corn snake", "pyrantel", 336, "pyrantel-reptile"),
    ],
)
def test_the_row_is_matched_by_animal_and_interval_and_the_narrowest_wins(
    animal: str, drug: str, hours: int, row: str
) -> None:
    used = ask(animal, drug, interval_hours=hours).range_used
    assert used is not None
    assert used.key == row


@pytest.mark.parametrize("row", [row for row in drug_rows() if not row.sets_range], ids=lambda row: row.key)
def test_special_rows_never_set_a_range(row: Any) -> None:
    for taxon in taxa():
        for hours in (None, row.interval_max_hours):
            request = DoseRequest(
                weight_g=300,
                dose_mg_per_kg=10,
                concentration_mg_per_ml=50,
                drug=row.drug,
                taxon=taxon,
                interval_hours=hours,
            )
            used = work_out(request, FACTS).range_used
            assert used is None or used.key != row.key


def test_two_hundred_for_a_gecko_needs_a_specialist_and_is_called_a_special_indication() -> None:
    answer = ask("leopard gecko", dose=200, weight_g=60, interval_hours=336)
    assert "dose-above-specialist-limit" in codes(answer)
    assert any("special indication" in warning.text for warning in answer.warnings)


def test_an_interval_unlike_any_published_one_is_the_vets_to_confirm() -> None:
    answer = ask("boa constrictor", dose=40, interval_hours=24)
    assert "interval-unlike-published" in answer.to_confirm
    assert answer.range_used is not None
    assert "240 to 336 h" in next(w.text for w in answer.warnings if w.code == "interval-unlike-published")


def test_without_an_interval_the_row_with_the_lowest_top_is_used() -> None:
    answer = ask("corn snake", "pyrantel", dose=25, strength=50)
    assert answer.range_used is not None
    assert answer.range_used.high_mg_per_kg == 5
    assert "dose-beyond-range" in codes(answer)
    assert not ask("corn snake", "pyrantel", dose=25, strength=50, weight_g=900, interval_hours=24).refused


def test_a_drug_without_a_range_for_the_animal_is_still_looked_at_for_slips() -> None:
    answer = ask("corn snake", "ponazuril", dose=300, strength=50, interval_hours=24)
    assert "no-range-known" in warned(answer)
    assert {"dose-above-ceiling", "slip-found"} <= codes(answer)
    fine = ask("corn snake", "ponazuril", dose=30, strength=50, interval_hours=24)
    assert fine.to_confirm == ("no-range-known",)
    assert fine.draw_ml == Decimal("0.25")


@pytest.mark.parametrize(
    ("dose", "refuses", "warns"),
    [
        ("50", set(), set()),
        ("20", set(), set()),
        ("19", set(), {"dose-outside-range"}),
        ("10", set(), {"dose-outside-range"}),
        ("9.5", {"slip-found"}, set()),
        ("9", {"slip-found"}, set()),
        ("8", set(), {"dose-far-outside-range"}),
        ("7", set(), {"dose-far-outside-range"}),
        ("4", {"dose-beyond-range", "slip-found"}, set()),
        ("50.1", {"dose-above-ceiling"}, set()),
    ],
)
def test_how_far_outside_the_range_decides(dose: str, refuses: set[str], warns: set[str]) -> None:
    """Range 20 to 50, ceiling 50: 9 × 2.2046 = 19.8 fits within 2 %, so pounds are suspected there."""
    answer = ask("corn snake", dose=dose, weight_g=2000, interval_hours=48)
    about_range = {"dose-outside-range", "dose-far-outside-range"}
    assert codes(answer) & {"dose-above-ceiling", "dose-beyond-range", "slip-found"} >= refuses
    assert bool(codes(answer)) == bool(refuses)
    assert warned(answer) & about_range == warns


def test_a_narrow_margin_drug_is_rounded_down_and_others_to_the_nearest_half_up() -> None:
    narrow = ask("corn snake", weight_g=435, dose=40, strength=40, interval_hours=48)
    assert (narrow.volume_ml, narrow.draw_ml) == (Decimal("0.435"), Decimal("0.43"))
    ordinary = ask("corn snake", "ponazuril", weight_g=725, dose=30, strength=50, interval_hours=24)
    assert (ordinary.volume_ml, ordinary.draw_ml) == (Decimal("0.435"), Decimal("0.44"))
    assert narrow.error_percent is not None
    assert ordinary.error_percent is not None
    assert narrow.error_percent < 0 < ordinary.error_percent


def test_fenbendazole_is_narrow_in_every_chelonian_and_ordinary_in_a_lizard() -> None:
    tortoise = ask("sulcata", "fenbendazole", dose=50, weight_g=850, strength=100, interval_hours=336)
    dragon = ask("bearded dragon", "fenbendazole", dose=50, weight_g=850, strength=100, interval_hours=336)
    assert (tortoise.draw_ml, dragon.draw_ml) == (Decimal("0.42"), Decimal("0.43"))


def test_the_keepers_own_syringe_and_marks_are_used() -> None:
    answer = ask("corn snake", interval_hours=48, syringe_ml=1)
    assert (answer.syringe_ml, answer.graduation_ml) == (1, Decimal("0.01"))
    coarse = ask("corn snake", weight_g=820, interval_hours=48, syringe_ml=1, graduation_ml="0.02")
    assert coarse.draw_ml == Decimal("0.40")
    assert coarse.delivered_mg_per_kg == pytest.approx(Decimal("19.5122"), abs=Decimal("0.0001"))


def test_a_finer_syringe_is_named_when_rounding_changes_too_much() -> None:
    answer = ask("corn snake", weight_g=110, interval_hours=48)
    assert codes(answer) == {"rounding-too-coarse"}
    assert "0.005" in answer.reasons[0].text
    assert ask("corn snake", weight_g=110, interval_hours=48, graduation_ml="0.005").draw_ml == Decimal(
        "0.055"
    )


def test_no_volume_of_a_refused_dose_stands_in_any_text() -> None:
    answer = ask("corn snake", dose=20, weight_g=2000, interval_hours=48, syringe_ml="0.5")
    assert codes(answer) == {"syringe-too-small"}
    said = " ".join(f"{item.text} {item.next}" for item in (*answer.reasons, *answer.warnings))
    assert "1 ml" not in said


def test_paste_strengths_and_percent_are_not_taken_for_mg_per_ml() -> None:
    assert "strength-per-gram" in codes(ask("bearded dragon", "ponazuril", dose=30, strength=150))
    percent = ask("bearded dragon", "levamisole", dose=10, strength="7.5", weight_g=300, interval_hours=336)
    assert "75 mg per ml" in next(w.text for w in percent.warnings if w.code == "strength-looks-like-percent")


def test_a_weight_of_another_unit_is_named() -> None:
    answer = ask("corn snake", weight_g=450000, interval_hours=48)
    reason = next(reason for reason in answer.reasons if reason.code == "weight-implausible")
    assert "450\N{NO-BREAK SPACE}000 is a thousand times 450" in reason.text


def test_drug_and_animal_are_both_asked_for() -> None:
    assert codes(ask("", "")) == {"drug-or-animal-missing"}
    assert "drug-or-animal-missing" in codes(ask("", "fenbendazole", dose=50))
    assert "drug-or-animal-missing" in codes(ask("corn snake", ""))
    bare = ask("", "", arithmetic_only=True)
    assert bare.draw_ml == Decimal("0.21")
    assert "no-range-check" in warned(bare)


def test_the_bare_sum_does_not_switch_off_what_is_known() -> None:
    assert ask("sulcata", "ivermectin", dose="0.2", arithmetic_only=True).refused
    assert "dose-above-ceiling" in codes(ask("corn snake", dose=200, interval_hours=48, arithmetic_only=True))
    assert "species-needed" in codes(ask("", "ivermectin", dose="0.2", arithmetic_only=True))


def test_an_unknown_animal_is_refused_with_near_names() -> None:
    answer = ask("corm snaik")
    assert "taxon-unknown" in codes(answer)
    assert "corn snake" in answer.reasons[0].text


def test_rules_that_need_a_plan_a_date_or_a_history_are_named_as_not_checked() -> None:
    named = {reason.code for reason in ask("corn snake", interval_hours=48).not_checked}
    assert {"order-missing", "weight-stale", "too-early", "warmth", "earlier-courses"} <= named
    assert {rule.code for rule in FACTS.rules if rule.needs} <= named


FIGURES = st.one_of(
    st.decimals(allow_nan=True, allow_infinity=True),
    st.floats(),
    st.integers(-(10**6), 10**6),
    st.text(max_size=8),
)


@settings(deadline=None)
@given(
    weight=FIGURES,
    dose=FIGURES,
    strength=FIGURES,
    drug=st.sampled_from(["", "nonsense", *(name.drug for name in FACTS.drug_names)]),
    animal=st.sampled_from([None, *taxa()]),
    route=st.sampled_from(["", "PO", "SC", "IM", "TOP", "IV", "sideways"]),
    syringe=st.one_of(st.none(), FIGURES),
    mark=st.one_of(st.none(), FIGURES),
    hours=st.one_of(st.none(), FIGURES),
    bare=st.booleans(),
)
def test_whatever_comes_in_no_volume_leaves_while_a_rule_refuses(
    weight: Any,
    dose: Any,
    strength: Any,
    drug: str,
    animal: Any,
    route: str,
    syringe: Any,
    mark: Any,
    hours: Any,
    bare: bool,
) -> None:
    request = DoseRequest(
        weight_g=weight,
        dose_mg_per_kg=dose,
        concentration_mg_per_ml=strength,
        drug=drug,
        taxon=animal,
        route=route,
        syringe_ml=syringe,
        graduation_ml=mark,
        interval_hours=hours,
        arithmetic_only=bare,
    )
    answer = work_out(request, FACTS)
    plain = answer.as_dict()
    figures = [plain[key] for key in ("volume_ml", "draw_ml", "delivered_mg_per_kg", "error_percent")]
    assert answer.refused == bool(answer.reasons)
    assert all((figure is None) == answer.refused for figure in figures)
    assert all(reason.text and reason.next for reason in answer.reasons)


POSITIVE = st.decimals("0.1", "5000", places=2)


@settings(deadline=None)
@given(weight=POSITIVE, dose=POSITIVE, strength=POSITIVE, factor=st.integers(2, 50))
def test_volume_grows_with_weight_and_dose_and_shrinks_with_strength(
    weight: Decimal, dose: Decimal, strength: Decimal, factor: int
) -> None:
    once = Fraction(volume_ml(weight, dose, strength))
    for more, expected in (
        (volume_ml(weight * factor, dose, strength), once * factor),
        (volume_ml(weight, dose * factor, strength), once * factor),
        (volume_ml(weight, dose, strength * factor), once / factor),
    ):
        assert abs(Fraction(more) - expected) <= expected * Fraction(1, 10**30)


@settings(deadline=None)
@given(
    hundredths=st.integers(1, 5000),
    strength=st.integers(1, 400),
    dose=st.sampled_from([1, 2, 4, 5, 8, 10, 16, 20, 25, 40, 50, 80, 100]),
)
def test_decimals_are_exact_where_binary_fractions_are_not(hundredths: int, strength: int, dose: int) -> None:
    """A weight chosen so that the volume is a whole number of hundredths gives exactly that number."""
    wanted = Decimal(hundredths) / 100
    weight = wanted * 1000 * strength / dose
    assert volume_ml(weight, Decimal(dose), Decimal(strength)) == wanted


def test_a_float_is_read_by_its_shortest_decimal_form() -> None:
    answer = ask("", "", dose=0.3, weight_g=1000.0, strength=0.1, arithmetic_only=True, route="TOP")
    assert answer.volume_ml == 3
    assert 0.3 / 0.1 != 3


@settings(deadline=None)
@given(
    weight=st.decimals("50", "4000", places=1),
    dose=st.decimals("20", "50", places=1),
    strength=st.sampled_from([5, 40, 50]),
)
def test_what_is_drawn_delivers_within_the_error_it_states(
    weight: Decimal, dose: Decimal, strength: int
) -> None:
    answer = ask("corn snake", dose=dose, weight_g=weight, strength=strength, interval_hours=48)
    if answer.refused:
        return
    assert answer.draw_ml is not None
    assert answer.graduation_ml is not None
    assert answer.delivered_mg_per_kg is not None
    assert answer.error_percent is not None
    limit = FACTS.rule("rounding-too-coarse").at_high() * 100
    assert -limit <= answer.error_percent <= 0
    assert answer.draw_ml % answer.graduation_ml == 0
    delivered = answer.draw_ml * strength * 1000 / weight
    assert abs(answer.delivered_mg_per_kg - delivered) < Decimal("1e-20")
    assert abs((answer.delivered_mg_per_kg / dose - 1) * 100 - answer.error_percent) < Decimal("1e-20")
