"""How the pages are built: ``sphinx-build -W -b html docs OUT`` (a test does it).

The pages read the same on a code host, so no page holds a directive for the order of pages; it stands here.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
ORDER: dict[str, list[str]] = {
    "Begin": ["first-page", "windows", "tutorial", "by-hand"],
    "How to": [
        *("how-to/index", "how-to/*", "marking", "how-it-asks", "paper", "batches", "vet", "vet-answer"),
        *("arrivals", "proposals", "moving", "server", "from-python"),
    ],
    "Why": ["explanation/index", "explanation/*", "glossary"],
    "Reference": ["reference/index", "forms"],
    "How it is built": ["architecture", "performance", "reliability", "names", "working-on-it", "changelog"],
    "More": ["*", "*/*"],
}
"""Which page stands under which heading of the side bar; a pattern takes what no line before it named."""

SHOWN = {"first-page": "README.md", "working-on-it": "DEVELOPERS.md"}
"""Pages that show a file from beside this folder, where a code host leads to the file itself."""

project = "fecallab"
project_copyright = "fecallab contributors"
language = "en"
extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build"]
nitpicky = True
myst_heading_anchors = 4
smartquotes = False  # --drug stays --drug

html_theme = "furo"
html_title = "fecallab"
html_copy_source = False
html_show_sphinx = False
html_static_path = ["static"]
html_css_files = ["pages.css"]
html_theme_options = {
    "light_css_variables": {"color-brand-primary": "#00557f", "color-brand-content": "#00557f"},
    "dark_css_variables": {"color-brand-primary": "#7cc4ea", "color-brand-content": "#7cc4ea"},
}


def version_of(text: str) -> str:
    """Return the version that a project file names."""
    found = re.search(r'^version = "([^"]+)"', text, re.M)
    return found.group(1) if found else ""


version = release = version_of((HERE.parent / "pyproject.toml").read_text(encoding="utf-8"))


def side_bar(pages: set[str]) -> Iterator[tuple[str, list[str]]]:
    """Yield each heading of the side bar with its pages; every page of `pages` stands under one of them."""
    left = pages - {"index"} - {page for page in pages if page.startswith("reference/")} | (
        {"reference/index"} & pages
    )
    for caption, patterns in ORDER.items():
        chosen: list[str] = []
        for pattern in patterns:
            form = re.compile(re.escape(pattern).replace(r"\*", "[^/]*"))
            found = sorted(page for page in left if form.fullmatch(page))
            chosen += found
            left -= set(found)
        if chosen:
            yield caption, chosen


def within(text: str, base: Path, page: str) -> str:
    """Return a text whose links from `base` hold on a page; links that leave this folder become plain words."""
    above = "../" * page.count("/")
    shown = {HERE.parent / name: f"{above}{by}.md" for by, name in SHOWN.items()}

    def lead(found: re.Match[str]) -> str:
        image, words, target, place = found.group(1), found.group(2), found.group(3), found.group(4) or ""
        if re.match(r"[a-z]+:", target):
            return found.group(0)
        path = (base / target).resolve()
        if path.is_relative_to(HERE):
            return f"{image}[{words}]({above}{path.relative_to(HERE).as_posix()}{place})"
        return f"[{words}]({shown[path]}{place})" if path in shown else words

    link = r"(!?)\[((?:[^\[\]`]|`[^`\n]*`)*)\]\(([^()#\s]+)(#[^()\s]*)?\)"
    parts = re.split(r"(^```.*?^```$)", text, flags=re.M | re.S)
    return "".join(part if part.startswith("```") else re.sub(link, lead, part) for part in parts)


def _toctree(pages: list[str], *options: str) -> str:
    lines = [f"What it is <{page}>" if page == "first-page" else page for page in pages]
    return "\n".join(["", "```{toctree}", ":hidden:", *options, "", *lines, "```", ""])


def add_side_bar(app: Any, name: str, source: list[str]) -> None:
    """Give the first page the side bar, and the index of a folder the pages beside it."""
    pages, written = set(app.env.found_docs), source[0]
    if name in SHOWN:
        path = HERE.parent / SHOWN[name]
        source[0] = within(path.read_text(encoding="utf-8"), path.parent, name)
    else:
        source[0] = within(source[0], (HERE / name).parent, name)
    if name == "index":
        for caption, chosen in side_bar(pages):
            source[0] += _toctree(chosen, f":caption: {caption}")
    elif name.startswith("reference/") and name.endswith("/index"):
        folder = name.removesuffix("index")
        below = {page.removeprefix(folder) for page in pages if page.startswith(folder)} - {"index"}
        listed = re.findall(r"\]\(([\w/-]+)\.md", written)
        here = [page for page in dict.fromkeys(listed) if page in below]
        near = {page for page in below if "/" not in page or page.endswith("/index")}
        source[0] += _toctree(here + sorted(near - set(here)))


def setup(app: Any) -> dict[str, Any]:
    """Join what is done here to the build."""
    from pygments.lexers.special import TextLexer

    app.add_lexer("csv", TextLexer)
    app.connect("source-read", add_side_bar)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
