"""How well keeper and vet agree: per target and over time, and what to send more of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, RECORDS, open_folder
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_percent

if TYPE_CHECKING:
    from fecallab.domain.keeper_and_vet import KeeperAndVet, Sensitivity, TargetAgreement


def register(app: typer.Typer) -> None:
    """Add the command ``agreement``."""
    app.command()(agreement)


def agreement(
    by: str = typer.Option("", "--by", help="Only the exams that this person read (all when left out)."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """How well you and your vets agree, target by target: where you are reliable, where to send more."""
    from fecallab.gather_vet import NOT_BLIND, keeper_and_vet_of

    with open_folder(records) as store:
        found = keeper_and_vet_of(store, by)
    emit(_payload(found, by), "\n".join([*_lines(found), NOT_BLIND] if found.pairs else [_none(by)]), as_json)


def _none(by: str) -> str:
    who = f" that {by} read" if by else ""
    return f"No vet has named a mark{who} yet. Send a page: fecallab vet page CASE"


def _lines(found: KeeperAndVet) -> list[str]:
    from fecallab.cli.words import table, table_with_notes
    from fecallab.domain.keeper_and_vet import FEWEST_MARKS, RELIABLE_FROM

    lines = [
        f"{number_of(found.pairs, 'mark')} in {number_of(found.exams, 'exam')} {'was' if found.pairs == 1 else 'were'} named by you and by a vet"
        f" ({found.with_the_rest} of them by 'agree with the rest'); {found.cannot_tell} could not be told."
    ]
    rows = [
        [
            one.target,
            str(one.table[0][0]),
            str(one.table[0][1]),
            str(one.table[1][0]),
            str(one.table[1][1]),
            _kappa(one),
            f"{one.found.ac1:.2f}",
            _share(one.found.positive_agreement),
            _share(one.found.negative_agreement),
        ]
        for one in found.targets
    ]
    if rows:
        header = ["target", "both", "you", "vet", "none", "kappa (95 %)", "AC1", "pos.", "neg."]
        lines.append(table_with_notes(header, rows, [f"{one.verdict}." for one in found.targets]))
        lines.append(
            "  Marks named so by both, only by you, only by the vet, by none. How alike that is: kappa, AC1, the"
            " share named alike among those named so (pos.) and among the others (neg.)."
        )
        if any(_without_interval(one) for one in found.targets):
            lines.append(
                "  A kappa without an interval: its formula gives no width there, and the marks are too alike to tell."
            )
        lines.append(
            f"  Called reliable from {FEWEST_MARKS} marks on, when the lower limit of the share named alike is"
            f" {say_percent(RELIABLE_FROM)} or more (own choice, no source)."
        )
    for one in found.targets:
        if one.unsure:
            lines.append(
                f"  {one.target}: of {one.unsure} that you were not sure of, the vet confirmed {one.unsure_confirmed}."
            )
        if one.missed:
            lines.append(f"  {one.target}: missed {one.missed}.")
    lines += [_sensitivity(one) for one in found.sensitivities]
    if found.periods:
        rows = [
            [quarter, str(number), say_percent(alike), "-" if kappa is None else f"{kappa:.2f}"]
            for quarter, number, alike, kappa in found.periods
        ]
        lines += ["Over time, all names:", table(["months", "marks", "alike", "kappa"], rows)]
    return lines


def _kappa(one: TargetAgreement) -> str:
    if one.found.kappa is None or one.found.ci95 is None:
        return "-"
    if _without_interval(one):
        return f"{one.found.kappa:.2f}"
    low, high = one.found.ci95
    kappa, low, high = (round(value, 2) + 0.0 for value in (one.found.kappa, low, high))
    return f"{kappa:.2f} ({low:.2f} to {high:.2f})"


def _without_interval(one: TargetAgreement) -> bool:
    """Say whether the formula of kappa gives no width: all named alike, or one of you never named it."""
    return one.found.kappa is not None and one.found.kappa_se == 0


def _share(value: float | None) -> str:
    return "-" if value is None else say_percent(value)


def _sensitivity(one: Sensitivity) -> str:
    from fecallab.domain.keeper_and_vet import FEWEST_EXAMS

    if not one.enough or one.share is None:
        return (
            f"  {one.target}: a vet found it in {one.exams} exam{'' if one.exams == 1 else 's'} looked over whole;"
            f" how often you find it is said from {FEWEST_EXAMS} on."
        )
    share = one.share
    return (
        f"  {one.target}: you found it in {share.found} of {number_of(share.of, 'exam')} in which a vet did ({say_percent(share.share)},"
        f" 95 % interval {say_percent(share.low)} to {say_percent(share.high)}, exact)."
    )


def _payload(found: KeeperAndVet, by: str) -> dict[str, Any]:
    return {
        "by": by or None,
        "marks": found.pairs,
        "exams": found.exams,
        "cannot_tell": found.cannot_tell,
        "agreed_with_the_rest": found.with_the_rest,
        "targets": [
            {
                "target": one.target,
                "table": [list(row) for row in one.table],
                "kappa": one.found.kappa,
                "kappa_se": one.found.kappa_se,
                "ci95": one.found.ci95,
                "agreement": one.found.agreement,
                "ac1": one.found.ac1,
                "positive_agreement": one.found.positive_agreement,
                "negative_agreement": one.found.negative_agreement,
                "named_alike": _of(one.named_alike),
                "missed": one.missed,
                "unsure": one.unsure,
                "unsure_confirmed": one.unsure_confirmed,
                "verdict": one.verdict,
            }
            for one in found.targets
        ],
        "sensitivity": [
            {"target": one.target, "exams": one.exams, "enough": one.enough, **_of(one.share)}
            for one in found.sensitivities
        ],
        "over_time": [
            {"months": quarter, "marks": number, "agreement": alike, "kappa": kappa}
            for quarter, number, alike, kappa in found.periods
        ],
    }


def _of(share: Any) -> dict[str, Any]:
    if share is None:
        return {"found": None, "of": None, "share": None, "ci95": None}
    return {"found": share.found, "of": share.of, "share": share.share, "ci95": (share.low, share.high)}
