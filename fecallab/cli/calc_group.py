"""Calculators on groups: how many to examine, what a sample finds, what a pool says. No rules, only words."""

from __future__ import annotations

from dataclasses import asdict

import typer

from fecallab.cli.typed import read_count, read_number, say_number
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of, say_percent

JSON = typer.Option(False, "--json", help="Print one JSON object.")
GROUP = typer.Option(..., "--group", metavar="N", help="Animals in the group.")
INFECTED = typer.Option(..., "--infected", metavar="D", help="How many infected ones must not be missed.")
SENSITIVITY = typer.Option(
    "1", "--sensitivity", metavar="0-1", help="Chance that one exam finds an infected animal; left out: 1."
)
RANDOM = (
    "It reckons with animals drawn by lot: the ones that are easy to catch are no sample. An animal that was "
    "not examined is never confirmed by the others."
)


def _infected(text: str) -> int:
    """Read the number of infected animals; a share is sent back, since 5 % of 12 animals is no animal."""
    typed = text.strip()
    if typed.endswith("%") or ("." in typed and typed.replace(".", "", 1).isdigit()):
        raise BadInput(
            f"--infected is {text[:40]!r}; it is a number of animals, no share: 5 % of 12 animals is no animal.",
            next="Type how many infected animals must not be missed: --infected 1",
            code="infected-is-a-number",
        )
    return read_count(typed, "--infected")


def _perfect(sensitivity: float) -> str:
    if sensitivity < 1:
        return ""
    return (
        "Every exam is taken to find what is there, which none does: give --sensitivity 0.5 when nothing "
        "better is known."
    )


def group_size(
    group: str = GROUP,
    infected: str = INFECTED,
    confidence: str = typer.Option(..., metavar="0-1", help="Wanted chance of finding at least one."),
    sensitivity: str = SENSITIVITY,
    as_json: bool = JSON,
) -> None:
    """How many of a group to examine so that infected animals are not all missed."""
    from fecallab.cli.output import emit
    from fecallab.domain import sampling

    animals, ill = read_count(group, "--group"), _infected(infected)
    wanted, finds = read_number(confidence, "--confidence"), read_number(sensitivity, "--sensitivity")
    found = sampling.group_size(animals, ill, wanted, finds)
    others = sampling.sizes_by_infected(animals, wanted, finds)
    payload = {
        **asdict(found),
        "group": animals,
        "infected": ill,
        "confidence": wanted,
        "sensitivity": finds,
        "sample_size_by_infected": {str(number): size for number, size in others.items()},
    }
    aim = f"at least one of {ill} infected" if ill > 1 else "the one infected animal"
    if found.sample_size is None:
        lines = [
            f"Not reachable even when all {animals} are examined: repeat exams. One exam of each finds {aim} "
            f"with chance {say_percent(found.if_all_examined)}; {say_percent(wanted)} was asked for.",
            f"Exams of each, of separate stools: {_each(found.exams_each)} if exams are independent, "
            f"{_each(found.exams_each_cautious)} cautious (light shedders stay light, a fit to human data).",
        ]
    else:
        lines = [
            f"Examine {found.sample_size} of {animals}: that finds {aim} with chance "
            f"{say_percent(found.probability_detected)} ({found.method}).",
            f"Expected among them: {say_number(found.expected_found)} found.",
        ]
    table = ", ".join(
        f"{number} infected: {'repeat exams' if size is None else size}" for number, size in others.items()
    )
    lines.append(f"Nobody knows how many are infected. {table}.")
    lines += [line for line in (_perfect(finds), RANDOM) if line]
    emit(payload, "\n".join(lines), as_json)


def _each(exams: int | None) -> str:
    return "no number that can be done" if exams is None else str(exams)


def detect(
    group: str = GROUP,
    tested: str = typer.Option(..., metavar="N", help="How many of them were examined, once each."),
    infected: str = INFECTED,
    sensitivity: str = SENSITIVITY,
    as_json: bool = JSON,
) -> None:
    """Chance that a sample of a group shows at least one infected animal."""
    from fecallab.cli.output import emit
    from fecallab.domain import sampling

    animals, examined, ill = read_count(group, "--group"), read_count(tested, "--tested"), _infected(infected)
    finds = read_number(sensitivity, "--sensitivity")
    chance = sampling.chance_detected(animals, examined, ill, finds)
    expected = sampling.expected_found(animals, examined, ill, finds)
    payload = {
        "probability_detected": chance,
        "expected_found": expected,
        "method": sampling.METHOD,
        "group": animals,
        "tested": examined,
        "infected": ill,
        "sensitivity": finds,
    }
    lines = [
        f"With {ill} of {animals} infected, exams of {examined} find at least one with chance "
        f"{say_percent(chance)} ({sampling.METHOD}); expected: {say_number(expected)} found.",
        f"So with chance {say_percent(1 - chance)} all of these exams are negative although {ill} "
        f"{'is' if ill == 1 else 'are'} infected."
        if ill
        else "With none infected there is nothing to find.",
    ]
    lines += [line for line in (_perfect(finds), RANDOM) if line]
    emit(payload, "\n".join(lines), as_json)


def pool(
    group: str = GROUP,
    pool_size: str = typer.Option(..., metavar="K", help="Animals whose stools are mixed, equal shares."),
    pools: str = typer.Option(..., metavar="N", help="How many such pools are examined."),
    infected: str = INFECTED,
    sensitivity: str = typer.Option(
        ..., metavar="0-1", help="Chance that an exam of one infected animal's own stool finds it."
    ),
    factor: str = typer.Option("", metavar="F", help="Eggs per gram of one egg counted, for a chamber."),
    as_json: bool = JSON,
) -> None:
    """What pooled samples of a group find, and what a clean pool says."""
    from fecallab.cli.output import emit
    from fecallab.domain.pooling import NEVER_ONE_ANIMAL, pool_answer

    animals, size, number = (
        read_count(text, option)
        for text, option in ((group, "--group"), (pool_size, "--pool-size"), (pools, "--pools"))
    )
    ill, finds = _infected(infected), read_number(sensitivity, "--sensitivity")
    of_chamber = read_number(factor, "--factor") if factor.strip() else None
    found = pool_answer(animals, size, number, ill, finds, factor=of_chamber)
    payload = {**asdict(found), "group": animals, "pool_size": size, "pools": number, "infected": ill}
    lines = [
        f"{number_of(number, 'pool')} of {size} ({found.animals_pooled} of {number_of(animals, 'animal')}), {ill} infected: at least one "
        f"pool is positive with chance {say_percent(found.probability_detected)}.",
        f"The same animals one by one: {say_percent(found.probability_detected_alone)}. A pool of {size} finds "
        f"its only infected animal with chance {say_percent(found.sensitivity_in_pool)}, its own stool alone "
        f"with {say_percent(finds)}.",
    ]
    if found.factor_per_animal is not None and found.upper95_animal_per_g is not None:
        lines.append(
            f"One egg counted stands for {say_number(found.factor_per_animal)} per gram of one animal, if the "
            "others have none. When nothing is counted, the pool lies below "
            f"{say_number(found.upper95_pool_per_g or 0)}, one animal in it below "
            f"{say_number(found.upper95_animal_per_g)} per gram (one-sided 95 % limits)."
        )
    lines += [NEVER_ONE_ANIMAL, found.note.removesuffix(f" {NEVER_ONE_ANIMAL}")]
    emit(payload, "\n".join(lines), as_json)


def register(app: typer.Typer) -> None:
    """Add these calculators to the noun ``calc``."""
    app.command("group-size")(group_size)
    app.command("detect")(detect)
    app.command("pool")(pool)
