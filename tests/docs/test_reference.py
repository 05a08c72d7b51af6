"""The reference says what the program says: nothing is missing, nothing is out of date; each check can fail."""

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.cli.every_command import commands

from .conftest import DOCS, ROOT

REWRITE = "out of date; type: python docs/make_reference.py"


def committed() -> str:
    """Return every page of the reference as it is committed."""
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted((DOCS / "reference").rglob("*.md")))


def words_missing(text: str, words: Iterable[str]) -> list[str]:
    """Return the words that do not stand between backticks in a text."""
    spoken = set(re.findall(r"`([^`\n]+)`", text))
    return sorted(set(words) - spoken)


def options_missing(text: str, program: Iterable[tuple[str, Any]]) -> list[str]:
    """Return every command without a section of its own, and every option that its section does not name."""
    sections = {
        part.partition("\n")[0]: part.partition("\n")[2]
        for part in re.split(r"^## fecallab ", text, flags=re.M)[1:]
    }
    missing = []
    for name, command in program:
        section = sections.get(name)
        if section is None:
            missing.append(name)
            continue
        spoken = {word.split()[0] for word in re.findall(r"`([^`\n]+)`", section)}
        for item in command.params:
            if item.param_type_name == "option":
                spellings = (*item.opts, *item.secondary_opts)
                missing += [f"{name} {spelling}" for spelling in spellings if spelling not in spoken]
            elif item.name.upper().replace("_", "-") not in section and str(item.metavar) not in section:
                missing.append(f"{name} {item.name}")
    return missing


def codes_of_tables() -> set[str]:
    """Return every code of the rule tables, read from the files as they lie there."""
    found = set()
    for name, column in (
        ("dose_rules", "code"),
        ("hard_stops", "code"),
        ("adequacy_conditions", "condition"),
        ("adequacy_routes", "route"),
        ("adequacy_blind", "code"),
    ):
        path = ROOT / "fecallab" / "reference" / "data" / f"{name}.csv"
        with path.open(encoding="utf-8", newline="") as lines:
            found |= {row[column] for row in csv.DictReader(lines)}
    return found


def codes_of_program() -> set[str]:
    """Return every word code that is spelled out beside a refusal or an error, by a plain search of the text."""
    said = re.compile(
        r"""\bcode="([a-z][a-z-]*-[a-z-]+)"|\bReason\(\s*"([a-z][a-z-]+)"|\b(?:refuse|_refuse)\(\s*"([a-z-]+-[a-z-]+)",""",
    )
    return {
        next(filter(None, found.groups()))
        for folder in (ROOT / "fecallab", ROOT / "plugins")
        for path in folder.rglob("*.py")
        for found in said.finditer(path.read_text(encoding="utf-8"))
    }


def test_the_reference_is_what_the_program_says_today(reference, pages):
    stale = reference.out_of_date(pages)
    assert stale == [], REWRITE


def test_a_page_that_differs_is_missing_or_too_many_is_named(reference, pages, tmp_path):
    reference.write(pages, tmp_path)
    assert reference.out_of_date(pages, tmp_path) == []
    (tmp_path / "codes.md").write_text("changed by hand", encoding="utf-8")
    (tmp_path / "commands" / "calc.md").unlink()
    (tmp_path / "commands" / "gone.md").write_text("a noun that is no more", encoding="utf-8")
    assert reference.out_of_date(pages, tmp_path) == ["codes.md", "commands/calc.md", "commands/gone.md"]
    reference.write(pages, tmp_path)
    assert reference.out_of_date(pages, tmp_path) == []
    assert not (tmp_path / "commands" / "gone.md").exists()


def test_every_command_and_every_option_is_in_the_reference(reference):
    program = list(commands())
    assert len(program) > 100 and sum(len(command.params) for _, command in program) > 800
    assert options_missing(committed(), program) == [], REWRITE


@dataclass
class Item:
    opts: list[str]
    name: str = "new_one"
    param_type_name: str = "option"
    metavar: str | None = None
    secondary_opts: list[str] = field(default_factory=list)


@dataclass
class Command:
    params: list[Item]


def test_a_command_or_an_option_that_is_not_in_the_reference_is_found(reference):
    name, weigh = next(pair for pair in commands() if pair[0] == "animal weigh")
    wider = Command([*weigh.params, Item(["--by-the-moon"], secondary_opts=["--by-the-sun"])])
    text = committed()
    assert options_missing(text, [(name, wider)]) == [f"{name} --by-the-moon", f"{name} --by-the-sun"]
    other = Item([], "moon", "argument")
    assert options_missing(text, [(name, Command([other])), ("animal sing", weigh)]) == [
        f"{name} moon",
        "animal sing",
    ]
    without = text.replace("`--scale-step-g …`", "")
    assert options_missing(without, [(name, weigh)]) == [f"{name} --scale-step-g"]


def test_every_rule_is_in_the_reference(reference):
    from fecallab.domain.cautions import CAUTIONS

    rules, said = codes_of_tables(), codes_of_program()
    assert len(rules) > 200 and len(said) > 400
    wanted = {*rules, *said, *(caution.code for caution in CAUTIONS)}
    assert words_missing(committed(), wanted) == [], REWRITE


def test_a_rule_that_is_not_in_the_reference_is_found(reference):
    text = committed()
    assert words_missing(text, ["weight-stale", "weight-of-the-moon"]) == ["weight-of-the-moon"]
    assert words_missing(text.replace("`weight-stale`", ""), ["weight-stale"]) == ["weight-stale"]


def test_every_rule_of_a_dose_says_what_it_does_and_who_may_lift_it(reference, pages):
    path = ROOT / "fecallab" / "reference" / "data" / "dose_rules.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        rules = list(csv.DictReader(lines))
    rows = [line for line in pages["dose-rules.md"].splitlines() if line.startswith("| `")]
    for rule in rules:
        scope = f" ({rule['scope']})" if rule["scope"] else ""
        mine = [row for row in rows if row.startswith(f"| `{rule['code']}`{scope}<br>`{rule['action']}` |")]
        assert mine, (rule["code"], rule["scope"])
        by = rule["overridden_by"].replace("not needed", "no word is needed")
        assert any(by in row and rule["next"][:30] in row for row in mine), rule["code"]


def test_every_calculator_setting_table_and_column_is_explained(reference, pages):
    from reference_pages import calculators, dictionary, settings

    assert {name for name, _ in commands() if name.startswith("calc ")} == set(calculators.FORMULAS)
    assert {"FECALLAB_RECORDS", "FECALLAB_BY"} <= settings.variables()
    assert settings.missing() == set()
    assert dictionary.unexplained() == [], "say what they mean in docs/reference_pages/columns.py"


def test_a_column_that_nobody_explains_is_found(reference, monkeypatch):
    from reference_pages import columns, dictionary

    monkeypatch.delitem(columns.MEANINGS, "weighed_at")
    monkeypatch.delitem(dictionary.ABOUT, "ledger")
    assert dictionary.unexplained() == ["ledger", "weighings.weighed_at"] or set(
        dictionary.unexplained()
    ) == {
        "ledger",
        "weighings.weighed_at",
    }


def test_every_column_of_the_records_is_in_the_dictionary(reference, pages):
    from fecallab.records.schema import metadata

    text = pages["data-dictionary.md"]
    parts = re.split(r"^### ", text, flags=re.M)
    sections = {part.split("\n")[0]: part for part in parts[1:]}
    assert set(sections) == set(metadata.tables)
    frame = set(re.findall(r"`(\w+)`", parts[0]))
    for table in metadata.sorted_tables:
        named = frame | set(re.findall(r"^\| `(\w+)`", sections[table.name], flags=re.M))
        assert {column.name for column in table.c} <= named, table.name


def test_every_command_has_an_example(reference):
    from reference_pages.examples import examples

    missing = {name for name, _ in commands()} - examples().keys()
    assert sorted(missing) == [], "write one in docs/reference_pages/examples.py"


def test_every_example_can_be_read_by_its_command(reference):
    from reference_pages.examples import example_of, examples

    for name, command in commands():
        command.make_context(name, list(examples()[name]))
        assert example_of(name).startswith(f"fecallab {name}")


def test_every_reference_table_has_its_rows_in_the_reference(reference, pages):
    for path in sorted((ROOT / "fecallab" / "reference" / "data").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines))
        home = pages[_page_of(path)]
        assert f"`{path.stem}`" in pages["tables.md"]
        key = "code" if path.stem == "hard_stops" else next(iter(rows[0]))
        if path.stem not in ("adequacy_blind", "adequacy_routes"):
            missing = [row[key] for row in rows if row[key] not in home]
            assert missing == [], path.stem


def _page_of(path: Path) -> str:
    from reference_pages.figures import OWN_PAGES

    return f"{OWN_PAGES.get(path.stem, 'tables')}.md"
