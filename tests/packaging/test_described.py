"""What describes the project to other programs: the manifest of the plugin, how it is cited, what changed."""

import re
import tomllib
from datetime import date
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MANIFEST = ROOT / "plugins" / "napari_fecallab" / "napari.yaml"

CFF_REQUIRED = {"cff-version", "message", "title", "authors"}
CFF_ALLOWED = CFF_REQUIRED | {
    *("abstract", "commit", "contact", "date-released", "doi", "identifiers", "keywords", "license"),
    *("license-url", "preferred-citation", "references", "repository", "repository-artifact"),
    *("repository-code", "type", "url", "version"),
}
"""Keys at the top of a file of the Citation File Format 1.2.0; memory (believed source: its guide)."""

pytestmark = pytest.mark.skipif(not (ROOT / "CITATION.cff").is_file(), reason="this is no clone")


def test_npe2_takes_the_manifest_and_every_name_in_it_can_be_imported():
    pytest.importorskip("npe2")
    from npe2.cli import app
    from typer.testing import CliRunner

    said = CliRunner().invoke(app, ["validate", "--imports", str(MANIFEST)])
    assert said.exit_code == 0, said.output
    assert "valid" in said.output and "invalid" not in said.output


def test_npe2_refuses_a_manifest_with_a_name_that_is_none(tmp_path):
    pytest.importorskip("npe2")
    from npe2.cli import app
    from typer.testing import CliRunner

    text = MANIFEST.read_text(encoding="utf-8")
    wrong = re.sub(r"python_name: (\S+):\w+", r"python_name: \1:no_such_name", text, count=1)
    assert wrong != text
    (tmp_path / "napari.yaml").write_text(wrong, encoding="utf-8")
    assert CliRunner().invoke(app, ["validate", "--imports", str(tmp_path / "napari.yaml")]).exit_code != 0


def test_the_citation_file_is_of_its_form_and_agrees_with_the_project():
    yaml = pytest.importorskip("yaml")
    cited = yaml.safe_load((ROOT / "CITATION.cff").read_text(encoding="utf-8"))
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert set(cited) >= CFF_REQUIRED and set(cited) <= CFF_ALLOWED
    assert cited["cff-version"] == "1.2.0" and cited["type"] in ("software", "dataset")
    assert cited["title"] == project["name"] and cited["license"] == project["license"]
    assert str(cited["version"]) == project["version"]
    assert [one["name"] for one in cited["authors"]] == [one["name"] for one in project["authors"]]
    assert set(project["keywords"]) == set(cited["keywords"])
    if "date-released" in cited:
        assert isinstance(cited["date-released"], date)


def test_every_version_of_the_changelog_says_what_to_know_before_upgrading():
    text = (ROOT / "docs" / "changelog.md").read_text(encoding="utf-8")
    versions = re.split(r"^## (?=\d)", text, flags=re.M)[1:]
    assert versions and versions[0].startswith("0.1.0")
    for version in versions:
        notes = version.partition("### When you upgrade\n")[2]
        assert "Back up" in notes, version.splitlines()[0]
    from fecallab.records.schema import SCHEMA_REVISIONS

    assert f"chema {SCHEMA_REVISIONS[-1]}" in versions[0]
    assert all(revision in versions[0] for revision in SCHEMA_REVISIONS[1:])
