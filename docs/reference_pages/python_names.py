"""The public Python names: one list, ``fecallab.__all__``, and what an opened record folder offers."""

import inspect
import re
from typing import Any

from reference_pages.markdown import code, page, plain, table


def python_names() -> str:
    """Return the page of the public Python names."""
    import fecallab

    sections = []
    for name in fecallab.__all__:
        value = getattr(fecallab, name)
        if callable(value):
            sections += [f"## fecallab.{name}", f"```python\n{name}{_signature(value)}\n```", _text(value)]
        else:
            sections += [f"## fecallab.{name}", "The version, as text."]
    return page(
        "Python names",
        "These names stay: `fecallab.__all__` lists them, and importing `fecallab` loads nothing heavy until one is"
        " used. Other modules may change with any version. [How to use them](../from-python.md).",
        *sections,
        "## What an open record folder offers",
        "`open_records` gives it; all of these only read. Facts are dataclasses whose fields are the columns of the"
        " [data dictionary](data-dictionary.md).",
        table(["call", "what it returns"], _methods()),
    )


def _methods() -> list[list[str]]:
    from fecallab.records.reader import Reader

    rows = []
    for name, value in vars(Reader).items():
        if name.startswith("_") or not (callable(value) or isinstance(value, property)):
            continue
        if name == "at_one_moment":
            rows.append([code("at_one_moment()"), plain(_summary(value))])
        elif isinstance(value, property):
            rows.append([code(name), plain(_summary(value))])
        else:
            given = re.sub(r"^\(self(?:, )?", "(", _signature(value)).rsplit(" -> ", 1)[0]
            rows.append([code(f"{name}{given}"), plain(_summary(value))])
    return rows


def _signature(value: Any) -> str:
    """Return a signature with the annotations as they are written."""
    said = re.sub(r"((?:: |-> ))'([^']*)'", r"\1\2", str(inspect.signature(value)))
    return re.sub(r"(?:[a-z_]+\.)+(?=[A-Z])", "", said)


def _summary(value: Any) -> str:
    return (inspect.getdoc(value) or "").split("\n\n")[0].replace("``", "`")


def _text(value: Any) -> str:
    """Return a docstring in numpydoc form as Markdown."""
    blocks = []
    parts = re.split(r"\n\n?([A-Z][a-z]+)\n-{3,}\n", inspect.getdoc(value) or "")
    blocks.append(plain(parts[0].replace("``", "`")))
    for title, body in zip(parts[1::2], parts[2::2], strict=True):
        if title == "Examples":
            shown = re.sub(r"  # doctest:.*", "", body.strip())
            blocks.append(f"```pycon\n{shown}\n```")
            continue
        if title not in ("Parameters", "Returns", "Raises", "Attributes", "Yields"):
            blocks.append(plain(body))
            continue
        items: list[str] = []
        for line in body.splitlines():
            if line.startswith("    "):
                items[-1] += f" {plain(line.strip().replace('``', '`'))}"
            elif line.strip():
                items.append(f"- {code(line.strip())}:")
        blocks.append(f"**{title}**\n\n" + "\n".join(items))
    return "\n\n".join(blocks)
