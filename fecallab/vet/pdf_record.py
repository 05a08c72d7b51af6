"""The record behind the pictures, on paper: exams with counts and adequacy, then each case with its course."""

from __future__ import annotations

from io import BytesIO

from fecallab.report import charts, words
from fecallab.report.figures import day, grams, interval, moment, number, percent
from fecallab.report.model import AdequacyBlock, CasePage, CountRow
from fecallab.report.page import RESULT_WORDS
from fecallab.vet.page_model import PageToVet, VetExam
from fecallab.vet.page_words import adequacy_words, plain
from fecallab.vet.pdf_paper import Letter


def write_record(letter: Letter, page: PageToVet) -> None:
    """Write everything behind the pictures: exams, cases, doses, weights, care."""
    counted = [one for one in page.items if one.mark is None]
    if counted:
        letter.heading(page.counted_heading)
        letter.grid(
            ("No.", "What", "How many", "Where"),
            [
                (
                    str(one.item.number),
                    f"{one.words}{'' if one.item.sure else ' (unsure)'}",
                    str(one.item.count),
                    one.where,
                )
                for one in counted
            ],
            (1, 6, 2, 5),
        )
    for exam in page.exams:
        _exam(letter, exam)
    for case in page.cases:
        _case(letter, case.page)
    if page.cases:
        _weights_and_care(letter, page.cases[0].page)


def _exam(letter: Letter, exam: VetExam) -> None:
    page = exam.page
    letter.heading(f"Exam {page.exam.code} of {day(page.sample.taken_on)}")
    for block in page.answers:
        stage = f", {block.stage}" if block.stage else ""
        bound = f"; {block.answer.bound.says} (one-sided 95 % limit)" if block.answer.bound else ""
        letter.tell(
            f"{RESULT_WORDS[block.answer.for_case]} for {block.target}{stage}{bound}", 10.5, bold=True
        )
        for reason in block.answer.reasons:
            letter.tell(reason.text, 9)
    for note in exam.words_of_vets:
        letter.tell(note, 9)
    if page.counts:
        letter.gap(2)
        letter.grid(
            ("Organism", "Where", "Seen", "How many", "Grade"),
            [(row.organism, row.where, words.seen_in(row), _burden(row), _grade(row)) for row in page.counts],
            (2.2, 3, 2.6, 4, 2.6),
        )
    sample = page.sample
    letter.gap(2)
    letter.pairs(
        [
            ("passed", words.passed(sample)),
            ("collected", moment(sample.collected_at)),
            ("freshness", words.freshness(sample, page.exam.examined_at)),
            ("material", words.material(sample)),
            ("kept", words.KEPT_WORDS.get(sample.kept or "", "not known")),
            ("remark", sample.remark),
        ],
        9,
    )
    for preparation in page.preparations:
        letter.gap(2)
        letter.keep(20)
        letter.tell(f"{preparation.preparation.code}: {preparation.method}", 10, bold=True)
        facts = words.preparation_facts(preparation.preparation, sample)
        letter.tell("; ".join(f"{what} {said}" for what, said in facts), 9)
        for adequacy in preparation.adequacy:
            letter.tell(adequacy_line(adequacy), 8.5)
        for line in preparation.readings:
            share = "" if line.cover_share is None else f", {percent(line.cover_share)} of the glass"
            seen = "; ".join(line.field_by_field) or words.seen_words(line.seen)
            power = f", {line.objective:g}×" if line.objective else ""
            letter.tell(f"{line.what}{power}{share}: {seen}", 8.5)
    for result in page.exam.elsewhere:
        letter.pairs(
            [
                (
                    "from elsewhere",
                    f"{result.target}: {result.result}, {result.who}, {result.method}, {day(result.reported_on)}",
                )
            ],
            9,
        )


def _burden(row: CountRow) -> str:
    parts = [words.mean_per_field(row)] if row.density else []
    if row.per_g is not None:
        ci95 = f" (95 % interval {interval(row.per_g_ci95)})" if row.per_g_ci95 else ""
        parts.append(f"{number(row.per_g)} per gram{ci95}")
    if row.bound:
        parts.append(row.bound.says)
    if row.cover_share is not None:
        parts.append(f"{percent(row.cover_share)} of the glass read")
    return "; ".join(parts)


def _grade(row: CountRow) -> str:
    return f"{row.grade.word} ({row.grade.scale_name})" if row.grade else "no scale for it"


def adequacy_line(block: AdequacyBlock) -> str:
    """Return in sentences whether a preparation could have shown something, and what does not hold."""
    told = adequacy_words(block)
    verdict = told["verdict"].capitalize()
    held = "."
    if block.conditions:
        held = f" {told['held']}."
    elif block.note:
        held = f". {block.note[0].upper()}{block.note[1:].rstrip('.')}."
    lacking = "".join(f" {one.question} {one.answer}." for one in told["lacking"])
    return f"Could it have shown {block.what}? {verdict}{held}{lacking}"


def _case(letter: Letter, page: CasePage) -> None:
    timeline = charts.timeline_of(page)
    drawn = bool(timeline.measured or timeline.unmeasured or timeline.doses or timeline.weights)
    letter.heading(f"Case {page.case.code}: {page.about}", keep_mm=128 if drawn else 34)
    letter.tell(f"Opened on {day(page.case.opened_on)}.", 9)
    for note in page.notes:
        letter.tell(note, 9)
    if drawn:
        _chart(letter, page, timeline)
    if page.exams:
        letter.gap(2)
        rows = [
            (
                f"{day(point.taken_on)} {point.code}",
                RESULT_WORDS.get(point.result, point.result),
                charts.burden_words(point) or "no figure",
                f"{'yes' if point.counted else 'no'}. {point.said}".strip(),
            )
            for point in page.exams
        ]
        letter.grid(("Stool of", "Result", "Burden", "Counts?"), rows, (2.4, 2, 3.4, 5))
    letter.gap(3)
    if page.plan is None:
        letter.tell("There is no plan by a vet yet.", 9.5)
    else:
        letter.keep(30)
        letter.tell("Plan", 10, bold=True)
        letter.pairs([(what, plain(said)) for what, said in words.plan_lines(page.plan)], 9)
        for plan in page.earlier_plans:
            letter.tell(f"Replaced: the plan of {day(plan.written_on)} by {plan.vet}.", 8.5)
    if page.doses:
        letter.gap(2)
        rows = [
            (
                moment(dose.given_at),
                dose.outcome + (f"; {dose.remark}" if dose.remark else ""),
                f"{dose.volume_ml} ml" if dose.volume_ml else "not noted",
                grams(dose.weight_g) if dose.weight_g is not None else "not noted",
            )
            for dose in page.doses
        ]
        letter.grid(("Dose", "What happened", "Volume", "Weight"), rows, (3, 4, 2, 2))
    if page.chance:
        chance = page.chance
        letter.gap(2)
        letter.tell(
            f"The chance that it is still there, beside the rule: {percent(chance.prior)} before "
            f"({chance.prior_from}); after {chance.negatives} adequate negatives {percent(chance.chance.independent)} "
            f"with exams independent, {percent(chance.chance.cautious)} cautiously.",
            9,
        )


def _chart(letter: Letter, page: CasePage, timeline: charts.Timeline) -> None:
    from PIL import Image

    from fecallab.report.time_axis import draw_png

    png = draw_png(timeline)
    with Image.open(BytesIO(png)) as image:
        aspect = image.width / image.height
    width = min(letter.wide, 150.0)
    letter.gap(2)
    letter.keep(width / aspect + 12)
    letter.image(BytesIO(png), letter.left, letter.at, width, alt_text=plain(charts.timeline_words(timeline)))
    letter.at += width / aspect + 1
    letter.tell("; ".join(text for _, text in charts.legend_of(timeline)) + ".", 7.5)
    letter.tell(
        "Filled circle: positive; open circle: none found; cross: inconclusive; diamond: unsure. Bars in the strip: "
        "doses given; triangle: not given, or not whole.",
        7.5,
    )


def _weights_and_care(letter: Letter, page: CasePage) -> None:
    if page.weights:
        letter.gap(3)
        letter.keep(16)
        letter.tell("Weights", 10, bold=True)
        letter.tell(
            "; ".join(
                f"{day(one.weighed_at)} {grams(one.mass_g)}{f' ({one.state})' if one.state else ''}"
                for one in page.weights
            )
            + ".",
            9,
        )
    if page.care:
        letter.gap(2)
        letter.tell("Supportive care", 10, bold=True)
        letter.tell(
            "; ".join(
                f"{day(one.at)} {one.kind}"
                + (f" {number(one.amount)} {one.unit}" if one.amount is not None else "")
                + (f" ({one.remark})" if one.remark else "")
                for one in page.care
            )
            + ".",
            9,
        )
