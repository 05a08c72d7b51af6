"""What other programs may rely on in Python: one list, nothing loaded before it is used, each name explained."""

import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import fecallab

ROOT = Path(__file__).parent.parent
NAMES = [name for name in fecallab.__all__ if name != "__version__"]


def test_the_list_has_no_name_twice_and_dir_shows_all():
    assert len(NAMES) == len(set(NAMES)) >= 10
    assert set(fecallab.__all__) <= set(dir(fecallab))


@pytest.mark.parametrize("name", NAMES)
def test_every_public_name_says_what_it_is(name):
    value = getattr(fecallab, name)
    said = inspect.getdoc(value) or ""
    first = said.splitlines()[0] if said else ""
    assert first.endswith((".", ")")) and value.__module__.startswith("fecallab."), name
    if inspect.isfunction(value):
        assert "Parameters\n---" in said, name
        signature = inspect.signature(value)
        assert signature.return_annotation is not inspect.Signature.empty
        explained = said.partition("Returns\n---")[0]
        assert [one for one in signature.parameters if not re.search(rf"\b{one}\b", explained)] == []


@pytest.mark.skipif(not (ROOT / "docs").is_dir(), reason="the pages are in the clone only")
def test_every_public_name_is_in_the_page_on_python():
    page = (ROOT / "docs" / "from-python.md").read_text(encoding="utf-8")
    assert [name for name in fecallab.__all__ if f"fecallab.{name}" not in page] == []
    spoken = set(re.findall(r"\bfecallab\.([A-Za-z_]+)", page))
    assert spoken <= {*fecallab.__all__, "__all__"}


def test_a_name_that_is_none_is_said_so():
    with pytest.raises(AttributeError, match="no attribute 'no_such_name'"):
        _ = fecallab.no_such_name


def test_a_star_import_brings_the_list_and_the_import_alone_loads_nothing_of_it():
    code = (
        "import sys, fecallab\n"
        "assert not [m for m in sys.modules if m.startswith('fecallab.')], sys.modules\n"
        "from fecallab import *\n"
        "print(*sorted(set(fecallab.__all__) - set(globals())))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""


def test_the_version_is_said_once_for_all():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert fecallab.__version__ == project["version"]
    cited = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert f"\nversion: {fecallab.__version__}\n" in cited
    changed = (ROOT / "docs" / "changelog.md").read_text(encoding="utf-8")
    assert f"\n## {fecallab.__version__}" in changed
