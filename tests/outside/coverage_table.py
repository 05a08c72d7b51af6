"""Print which rows of data/checks.json which tests use: python tests/outside/coverage_table.py."""

import ast
import json
from collections import defaultdict
from pathlib import Path

HERE = Path(__file__).parent
KINDS = ("read", "memory", "derived")

WITHOUT_A_COMPUTATION: dict[str, str] = {}
"""Rows that no test can use, each with the reason. None at present."""


def all_rows(folder: Path = HERE) -> dict[str, dict]:
    """Return every row of checks.json by its id."""
    rows = json.loads((folder / "data" / "checks.json").read_text(encoding="utf-8"))
    return {row["id"]: row for row in rows}


def rows_used(folder: Path = HERE) -> dict[str, set[str]]:
    """Return, for each row that a test names (in its decorators or its body), the tests that name it."""
    known = set(all_rows(folder))
    used: dict[str, set[str]] = defaultdict(set)
    for path in sorted(folder.glob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                for part in ast.walk(node):
                    if isinstance(part, ast.Constant) and isinstance(part.value, str) and part.value in known:
                        used[part.value].add(f"{path.name}::{node.name}")
    return dict(used)


def coverage_table(folder: Path = HERE) -> str:
    """Return one line per topic: rows, rows used, by kind of source, and the rows that nobody uses."""
    used = rows_used(folder)
    topics: dict[str, list[dict]] = defaultdict(list)
    for row in all_rows(folder).values():
        topics[row["topic"]].append(row)
    lines = [f"{'topic':<26}{'rows':>5}{'used':>6}{''.join(f'{kind:>9}' for kind in KINDS)}  not used"]
    for topic, rows in sorted(topics.items()):
        in_use = [row for row in rows if row["id"] in used]
        kinds = "".join(f"{sum(row['source_kind'] == kind for row in in_use):>9}" for kind in KINDS)
        missing = " ".join(row["id"] for row in rows if row["id"] not in used)
        lines.append(f"{topic:<26}{len(rows):>5}{len(in_use):>6}{kinds}  {missing or '-'}")
    return "\n".join(lines)


if __name__ == "__main__":
    print(coverage_table())
