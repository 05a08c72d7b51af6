"""Every refusal and warning that the cautions ask for stands in the rule table or among the hard stops.

The left column is the working number of the list of cautions that the table was merged from, with the
situation in short; the right column the word codes that answer it.
"""

from __future__ import annotations

import pytest

from fecallab.reference.drugs import dose_rules, hard_stops

REFUSE: dict[str, tuple[str, tuple[str, ...]]] = {
    "01": ("no order, or a part of it missing", ("order-missing", "order-incomplete", "component-missing")),
    "02": (
        "order too old, course complete, doses used up",
        ("order-expired", "doses-used-up", "order-in-future"),
    ),
    "03": ("another animal, or nobody said which", ("order-for-another-animal", "animal-not-confirmed")),
    "04": (
        "no weight, too old, not plausible, a jump",
        ("weight-missing", "weight-stale", "weight-implausible", "weight-jump", "weight-in-future"),
    ),
    "05": (
        "strength or unit missing or ambiguous, base or salt",
        (
            "order-incomplete",
            "strength-percent",
            "strength-ratio",
            "strength-per-gram",
            "unit-wrong",
            "number-ambiguous",
            "component-missing",
            "strength-typed-differently",
        ),
    ),
    "06": (
        "a hard stop, or the species not known",
        ("species-needed", "taxon-unknown", "stop-ivermectin-chelonian", "stop-nitroimidazole-kingsnake"),
    ),
    "07": (
        "above the ceiling, far beyond the range, a slip",
        ("dose-above-ceiling", "dose-beyond-range", "slip-found", "dose-above-specialist-limit"),
    ),
    "08": ("a drug without a row", ("drug-unknown", "unknown-drug-chelonian", "no-range-check")),
    "09": ("unlike the last order, or the vet's volume", ("dose-unlike-last", "vet-volume-differs")),
    "10": (
        "too small to measure, no liquid named, too many steps",
        ("volume-too-small", "dilution-diluent-missing", "dilution-too-many-steps"),
    ),
    "11": ("rounding above 5 %", ("rounding-too-coarse",)),
    "12": (
        "above 2 % by mouth, per place, 40 ml per kg of fluids",
        ("volume-by-mouth-too-large", "volume-per-site-too-large", "stomach-too-full", "fluids-too-much"),
    ),
    "13": (
        "body cavity, vein, bone; not taught; another route",
        ("stop-route-not-at-home", "fluids-route-not-at-home", "injection-not-taught", "route-differs"),
    ),
    "14": (
        "too early, or logged today by another",
        ("too-early", "given-today-already", "too-many-in-a-day"),
    ),
    "15": (
        "cold, not recorded before a first dose, unwell",
        ("too-cold-by-day", "too-cold-at-night", "below-vets-floor", "warmth-not-recorded", "unwell-today"),
    ),
    "16": (
        "dry, or not known, with a drug hard on kidneys",
        (
            "hydration-unknown",
            "stop-sulfonamide-kidney-or-dry",
            "stop-aminoglycoside-kidney-or-gut",
            "stop-piperazine-kidney-or-dry",
        ),
    ),
    "17": ("expired, discarded, dilution too old", ("drug-expired", "discard-passed", "dilution-expired")),
    "18": (
        "drugs that must not meet",
        (
            "stop-levamisole-with-pyrantel",
            "stop-levamisole-with-chloramphenicol",
            "stop-two-nitroimidazoles",
            "stop-two-macrocyclic-lactones",
        ),
    ),
    "19": ("loss above 20 %, a sign after the last dose", ("weight-loss", "sign-after-dose")),
    "20": ("overfill with a large tube, both ways", ("tube-overfill-too-small", "tube-two-ways")),
    "21": ("an animal meant to be eaten", ("stop-food-animal",)),
    "22": ("the clock", ("clock-backwards", "clock-zone-mixed")),
    "23": ("no number above zero", ("number-not-positive", "number-out-of-reach", "number-unreadable")),
}

WARN: dict[str, tuple[str, tuple[str, ...]]] = {
    "01": ("outside the range, within twice or half", ("dose-outside-range",)),
    "02": ("further outside", ("dose-far-outside-range",)),
    "03": ("a weak source", ("range-weakly-sourced",)),
    "04": ("near the smallest volume", ("volume-near-smallest",)),
    "05": ("weight changed", ("weight-changed", "weight-loss-watch")),
    "06": ("weight some days old", ("weight-some-days-old",)),
    "07": (
        "gravid, young, shedding, fed, after brumation",
        ("delicate-state", "weight-not-empty", "brumating"),
    ),
    "08": (
        "benzimidazoles again, or five daily doses",
        ("warn-benzimidazole-again", "warn-benzimidazole-five-daily-doses"),
    ),
    "09": ("narrow margin", ("narrow-margin-watch",)),
    "10": ("late", ("late-dose",)),
    "11": ("what the tube holds", ("tube-dead-volume-large",)),
    "12": ("fluids above 30", ("fluids-much",)),
    "13": ("a range too wide", ("range-too-wide",)),
    "14": ("an unusual interval", ("interval-unlike-published",)),
    "15": ("no positive exam, or clear already", ("no-positive-exam", "clear-already")),
    "16": ("other drugs running", ("other-drug-running",)),
    "17": ("a study's dose", ("trial-dose",)),
    "18": (
        "a product for another species",
        ("stop-toltrazuril-undiluted", "warn-toltrazuril-which-bottle", "warn-spot-on-for-cats"),
    ),
}

ARITHMETIC: dict[str, tuple[str, tuple[str, ...]]] = {
    "2.3 rounding": ("above 5 %: finer syringe, dilution, refuse", ("rounding-too-coarse",)),
    "3 ten-fold": ("inside, twice, five times, ceiling", ("dose-outside-range", "dose-beyond-range")),
    "3 strength": ("known, or typed twice", ("strength-unknown", "strength-typed-differently")),
    "3 weight": ("1.5 and 5 times", ("weight-odd", "weight-jump")),
    "3 volume": ("1 % and 2 % by mouth", ("volume-by-mouth-large", "volume-by-mouth-too-large")),
    "3 one override": ("at most one", ("one-word-only", "word-not-counted")),
    "4.1 units": ("U-100 or U-40", ("syringe-in-units",)),
    "4.4 smallest": (
        "marks and tolerance",
        ("volume-too-small", "volume-near-smallest", "graduation-unlikely"),
    ),
    "4.4 one draw": ("never split", ("syringe-too-small", "syringe-unknown")),
    "5.1 factors": ("2, 4, 5, 10, 20", ("dilution-factor", "dilution-factor-unknown")),
    "5.2 stock": ("0.5 ml, at least 0.2", ("dilution-stock-draw-small", "dilution-stock-draw-too-small")),
    "5.5 liquid": ("named; ivermectin and water", ("dilution-diluent-missing", "dilution-not-with-water")),
    "5.6 discard": ("same session", ("dilution-expiry", "dilution-expired", "dilution-used")),
    "5.7 ratio": ("1:10 is not read", ("dilution-ratio",)),
    "5.8 chain": ("root of the sum of squares", ("dilution-error", "dilution-error-too-large")),
    "4.3 dead space": ("not inside the dosing syringe", ("dilution-in-dosing-syringe", "stock-waste")),
    "6 tube": (
        "flush or overfill",
        ("tube-way-missing", "tube-two-ways", "tube-flush", "tube-flush-too-small"),
    ),
    "6 length": ("measured on the animal", ("tube-length-not-measured",)),
    "7 stomach": (
        "2 %, 1 % for the first three, 48 to 72 h",
        ("stomach-too-full", "stomach-first-gavages", "stomach-beyond-published", "gavage-after-meal"),
    ),
    "8 fluids": (
        "30 and 40 ml per kg, per place, 48 to 96 h",
        (
            "fluids-much",
            "fluids-too-much",
            "fluids-per-site",
            "fluids-deficit-days",
            "fluids-product-missing",
        ),
    ),
    "9 weights": (
        "age, change, scale",
        (
            "weight-stale",
            "weight-changed",
            "weight-gain",
            "scale-coarse",
            "scale-too-coarse",
            "scale-step-unknown",
        ),
    ),
    "10 husbandry": (
        "warm, water, food",
        ("too-cold-by-day", "hydration-first", "feeding-cold-or-dry", "brumating", "too-warm"),
    ),
}

LISTS = {"refuse": REFUSE, "warn": WARN, "arithmetic": ARITHMETIC}
CODES = {rule.code: rule.action for rule in dose_rules()} | {stop.code: stop.action for stop in hard_stops()}


@pytest.mark.parametrize(("name", "number"), [(name, number) for name in LISTS for number in LISTS[name]])
def test_every_working_number_is_answered_by_rows_of_the_table(name: str, number: str) -> None:
    situation, codes = LISTS[name][number]
    assert situation
    assert codes
    for code in codes:
        assert code in CODES, f"{name} {number}: {code} stands in no row"
    if name == "refuse":
        assert any(CODES[code].startswith("refuse") for code in codes)


def test_no_number_of_either_list_is_left_out() -> None:
    assert sorted(REFUSE) == [f"{number:02d}" for number in range(1, 24)]
    assert sorted(WARN) == [f"{number:02d}" for number in range(1, 19)]


def test_where_the_lists_differ_the_row_says_so() -> None:
    """Each of these was asked for in two ways; the note of the row says which was taken, in favour of the animal."""
    rules = {(rule.code, rule.scope): rule for rule in dose_rules()}
    for key in (
        ("order-expired", ""),
        ("dose-unlike-last", "refuse"),
        ("slip-found", ""),
        ("range-too-wide", ""),
        ("brumating", ""),
        ("warmth-not-recorded", "first-dose"),
        ("late-dose", ""),
        ("too-early", ""),
        ("weight-gain", "growing"),
        ("volume-per-site-too-large", "IM"),
        ("stomach-too-full", ""),
        ("too-cold-at-night", ""),
        ("interval-unlike-published", ""),
    ):
        assert rules[key].note, key
