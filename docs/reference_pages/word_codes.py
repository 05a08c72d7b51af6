"""Exit codes, and every word code of a refusal, a warning or an error, read from the program's own text."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from reference_pages.markdown import code, page, plain, table

ROOT = Path(__file__).parent.parent.parent
ENDS = {
    "BadInput": "2 bad input",
    "refuse": "2 bad input",
    "_Asked": "2 bad input",
    "CouldNot": "3 could not",
    "AnswerNotWritten": "3 could not",
    "Reason": "said, or 1 refused",
    "RowsRefused": "1 refused",
}
"""What the program makes of a code, by the name of what carries it."""


@dataclass(frozen=True)
class WordCode:
    """One place in the program that says a code."""

    code: str
    ends: str
    text: str
    next: str
    module: str


def folders() -> tuple[Path, ...]:
    """Return the folders that hold the program."""
    return ROOT / "fecallab", ROOT / "plugins" / "napari_fecallab"


def found() -> Iterator[WordCode]:
    """Walk the program: every code that is spelled out where a problem is said."""
    for folder in folders():
        for path in sorted(folder.rglob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            module = path.relative_to(folder.parent).as_posix()
            for node, known in _calls(tree, {}):
                yield from _said(node, module, known)


Known = dict[str, ast.expr]


def _once(text: str) -> str:
    return re.sub("……+", "…", text)


def _calls(node: ast.AST, known: Known) -> Iterator[tuple[ast.Call, Known]]:
    """Yield every call with the names that were given a value before it, where it stands."""
    if isinstance(node, ast.Module | ast.FunctionDef | ast.AsyncFunctionDef):
        known = dict(known)
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Assign) and isinstance(child.targets[0], ast.Name):
            known[child.targets[0].id] = child.value
        if isinstance(child, ast.AnnAssign) and isinstance(child.target, ast.Name) and child.value:
            known[child.target.id] = child.value
        if isinstance(child, ast.Call):
            yield child, dict(known)
        yield from _calls(child, known)


def _said(node: ast.Call, module: str, known: Known) -> Iterator[WordCode]:
    name = getattr(node.func, "id", getattr(node.func, "attr", ""))
    given = {word.arg: word.value for word in node.keywords}
    holder: ast.expr | None = given.get("code")
    texts = list(node.args)
    if name == "Reason" and texts and holder is None:
        holder = texts.pop(0)
    elif name == "__init__" and holder is not None:
        name = "BadInput"
    if holder is None or name not in ENDS:
        return
    for one in _choices(holder, known):
        word = words_of(one)
        if word.strip("…") and " " not in word:
            text = words_of(texts[0] if texts else given.get("text"), known)
            step = words_of(given.get("next"), known) or (words_of(texts[1], known) if len(texts) > 1 else "")
            yield WordCode(word, ENDS[name], _once(text), _once(step), module)


def _choices(node: ast.expr, known: Known) -> list[ast.expr]:
    if isinstance(node, ast.IfExp):
        return [*_choices(node.body, known), *_choices(node.orelse, known)]
    if isinstance(node, ast.Name) and isinstance(known.get(node.id), ast.Constant | ast.IfExp):
        return _choices(known[node.id], {})
    return [node]


def words_of(node: ast.expr | None, known: Known | None = None) -> str:
    """Return a text of the program with … for what is filled in; empty where it is made elsewhere.

    Examples
    --------
    >>> words_of(ast.parse("f'{name} weighs {mass:g} g'", mode="eval").body)
    '… weighs … g'
    """
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(words_of(part, known) or "…" for part in node.values)
    if isinstance(node, ast.FormattedValue):
        inner = (known or {}).get(getattr(node.value, "id", ""))
        return inner.value if isinstance(inner, ast.Constant) and isinstance(inner.value, str) else "…"
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return words_of(node.left, known) + words_of(node.right, known)
    if isinstance(node, ast.IfExp):
        return words_of(node.body, known) or words_of(node.orelse, known)
    if isinstance(node, ast.Name) and node.id in (known or {}):
        rest = {name: value for name, value in (known or {}).items() if name != node.id}
        return words_of((known or {})[node.id], rest)
    return ""


def word_codes() -> str:
    """Return the page of exit codes and word codes."""
    from fecallab.reference.tables import read_rows

    by_code: dict[str, list[WordCode]] = {}
    for one in found():
        by_code.setdefault(one.code, []).append(one)
    rows = []
    for word in sorted(by_code):
        places = by_code[word]
        shown = next((one for one in places if one.text.strip("… .")), places[0])
        ends = ", ".join(sorted({one.ends for one in places}))
        step = next((one.next for one in places if one.next), "")
        rows.append([f"{code(word)}<br>{ends}", plain(shown.text), plain(step)])
    dosing = sorted({row["code"] for row in (*read_rows("dose_rules"), *read_rows("hard_stops"))})
    adequate = sorted(
        {row["condition"] for row in read_rows("adequacy_conditions")}
        | {row["code"] for row in read_rows("adequacy_blind")}
    )
    return page(
        "Exit codes and word codes",
        "A command ends with a number for scripts, and says why in words. With `--json` every reason carries `code`,"
        " a word that stays, `text` for people, and `next`, what to type or do.",
        "## Exit codes",
        table(
            ["exit code", "meaning"],
            [
                ["0", "Done. A calculator that answered ends so whatever it says."],
                ["1", "A refused act or dose, with every reason. What is kept of it is told."],
                ["2", "Bad input: it cannot be meant. Nothing was changed."],
                ["3", "Could not: disk, lock, permission, network. Nothing was changed."],
                ["130", "Stopped by Ctrl-C. The step that was stopped recorded nothing."],
            ],
        ),
        "## Word codes of tables",
        f"The {len(dosing)} codes of [rules of a dose](dose-rules.md) and the {len(adequate)} of the"
        " [adequacy table](adequacy.md) stand there, with what lifts them. [Cautions](cautions.md) have codes too.",
        "## Word codes of the program",
        f"{len(rows)} codes. Of a code that is said in several places one text stands here; … is filled in. *Said*:"
        " a reason beside an answer; the same code may refuse an act.",
        table(["code; exit code", "words shown", "what next"], rows),
    )
