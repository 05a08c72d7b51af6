"""Every command that a page speaks of exists, with every option that it is given there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
WRITTEN_BY_HAND = [
    ROOT / "README.md",
    *(
        page
        for page in sorted(DOCS.rglob("*.md"))
        if not page.relative_to(DOCS).parts[0].startswith("reference")
    ),
]
INLINE = re.compile(r"(?<!`)`(?:[.\w\\/]*[\\/])?fecallab ([^`\n]*)`(?!`)")
FENCE = re.compile(r"^```.*?^```", re.M | re.S)
LINE = re.compile(r"^(?:\$ )?fecallab (.*)$", re.M)
NO_COMMAND = ("answer begins", "answer ends")
"""The two lines that frame an answer in a message."""
OPTION = re.compile(r"(?<![\w-])(--?[a-zA-Z][\w-]*)")

MISTYPED = {"weigh"}
"""What a page names as a slip, to say what the program answers."""

pytestmark = pytest.mark.skipif(not DOCS.is_dir(), reason="the pages are in the clone only")


@pytest.fixture(scope="module")
def program() -> Any:
    import typer

    from fecallab.cli.main import build_app

    return typer.main.get_command(build_app())


def spoken_of(text: str) -> Iterator[str]:
    """Find what stands behind ``fecallab`` in running text and in blocks."""
    found = [*INLINE.findall(FENCE.sub("", text)), *LINE.findall("\n".join(FENCE.findall(text)))]
    for said in found:
        if re.match(r"[a-z-]", said) and not said.startswith(NO_COMMAND) and said not in MISTYPED:
            yield said.strip()


def wrong_with(said: str, program: Any) -> str:
    """Say what is wrong with a command: empty where it exists with all its options."""
    bare = re.sub(r"\"[^\"]*\"", "X", said.split("  ")[0])
    node, words = program, []
    for word in bare.split():
        below = getattr(node, "commands", None)
        if below is None or word not in below:
            break
        node, words = below[word], [*words, word]
    rest = bare.split()[len(words) :]
    if getattr(node, "commands", None) is not None and rest and re.fullmatch(r"[a-z][a-z-]+", rest[0]):
        return f"no command {rest[0]!r}"
    known = {name for one in node.params for name in (*one.opts, *one.secondary_opts)} | {"--help", "-h"}
    known |= {"--install-completion", "--show-completion"} if node is program else set()
    return ", ".join(sorted(set(OPTION.findall(" ".join(rest))) - known))


@pytest.mark.parametrize("page", WRITTEN_BY_HAND, ids=lambda page: page.stem)
def test_what_a_page_tells_to_type_exists(page, program):
    wrong = {
        said: why
        for said in spoken_of(page.read_text(encoding="utf-8"))
        if (why := wrong_with(said, program))
    }
    assert not wrong, f"{page.name}: {wrong}"


def test_commands_are_found_in_the_pages():
    assert sum(len(list(spoken_of(page.read_text(encoding="utf-8")))) for page in WRITTEN_BY_HAND) > 250


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("animal ad Saffron", "no command 'ad'"),
        ("animal weigh Saffron 318 --att now", "--att"),
        ("weighing", "no command 'weighing'"),
        ('animal weigh "a --b" 318 --at "2026-03-02 08:00"', ""),
        ("due --on 2026-03-02", ""),
    ],
)
def test_a_command_or_an_option_that_is_not_there_is_found(said, why, program):
    assert wrong_with(said, program) == why
