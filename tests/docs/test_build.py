"""The pages build without a warning, every page stands in the side bar, and a broken link stops the build."""

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from .conftest import DOCS, ROOT

pytestmark = pytest.mark.skipif(not (DOCS / "conf.py").is_file(), reason="the pages are in the clone only")


def build(source: Path, into: Path) -> subprocess.CompletedProcess[str]:
    """Build the pages as the page on working on it says: a warning is an error."""
    if importlib.util.find_spec("sphinx") is None and not os.environ.get("FECALLAB_CI"):
        pytest.skip("Sphinx is not installed (the extra `docs`)")
    words = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html", str(source), str(into)]
    return subprocess.run(words, capture_output=True, text=True, encoding="utf-8", timeout=300)


@pytest.fixture
def conf() -> ModuleType:
    found = importlib.util.spec_from_file_location("conf_of_the_pages", DOCS / "conf.py")
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def test_all_pages_build_without_a_warning(tmp_path):
    done = build(DOCS, tmp_path / "out")
    assert done.returncode == 0, done.stderr[-3000:]
    for page in DOCS.rglob("*.md"):
        assert (tmp_path / "out" / page.relative_to(DOCS).with_suffix(".html")).is_file(), page
    index = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    for page in ("by-hand", "reference/index", "architecture", "working-on-it", "performance", "reliability"):
        assert f'href="{page}.html"' in index
    shown = (tmp_path / "out" / "working-on-it.html").read_text(encoding="utf-8")
    assert "Changing a table" in shown and 'href="architecture.html"' in shown


def test_a_link_that_leads_nowhere_and_a_page_alone_stop_the_build(tmp_path):
    source = tmp_path / "docs"
    source.mkdir()
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        (tmp_path / name).write_text('# Title\n\nversion = "1.2.3"\n', encoding="utf-8")
    shutil.copy(DOCS / "conf.py", source)
    shutil.copytree(DOCS / "static", source / "static")
    for page in ("index", "first-page", "working-on-it"):
        (source / f"{page}.md").write_text(f"# {page}\n\n[there](there.md)\n", encoding="utf-8")
    (source / "there.md").write_text("# There\n\n[the file beside](../README.md)\n", encoding="utf-8")
    whole = build(source, tmp_path / "out")
    assert whole.returncode == 0, whole.stderr
    (source / "there.md").write_text("# There\n\n[away](nowhere.md)\n", encoding="utf-8")
    broken = build(source, tmp_path / "out")
    assert broken.returncode == 1 and "nowhere.md" in broken.stderr


def test_every_page_stands_once_under_one_heading(conf):
    pages = {path.relative_to(DOCS).with_suffix("").as_posix() for path in DOCS.rglob("*.md")}
    listed = [page for _, chosen in conf.side_bar(pages) for page in chosen]
    below = {page for page in pages if page.startswith("reference/")} - {"reference/index"}
    assert sorted(listed) == sorted(pages - below - {"index"})
    assert [caption for caption, _ in conf.side_bar({"index", "by-hand", "a-new-page"})] == ["Begin", "More"]


def test_links_are_laid_for_the_page_that_shows_a_file(conf):
    text = "[map](docs/architecture.md#layout), [slides](sample_slides/README.md), [out](https://example.org/a.md)"
    laid = conf.within(text, ROOT, "working-on-it")
    assert laid == "[map](architecture.md#layout), slides, [out](https://example.org/a.md)"
    assert (
        conf.within("[how](../../DEVELOPERS.md)", DOCS / "how-to", "how-to/x") == "[how](../working-on-it.md)"
    )
    code = "```python\ncounts[0](README.md)\n```"
    assert conf.within(code, ROOT, "first-page") == code


def test_every_page_is_reached_by_plain_links():
    seen: set[Path] = set()
    left = [DOCS / "index.md", ROOT / "README.md"]
    while left:
        page = left.pop()
        if page in seen or not page.is_file() or page.suffix != ".md":
            continue
        seen.add(page)
        links = re.findall(r"\]\(([^)#:\s]+)", page.read_text(encoding="utf-8"))
        left += [(page.parent / link).resolve() for link in links]
    assert sorted(path.relative_to(DOCS).as_posix() for path in set(DOCS.rglob("*.md")) - seen) == []
