"""Pages say today what their gold copies say; a difference is written beside them, with what to do."""

import gold_pages
import pytest

NAMES = ("exam_positive.html", "exam_negative.html", "case_followed.html", "case_closed.html")


@pytest.fixture(scope="module")
def pages():
    return gold_pages.pages()


@pytest.mark.parametrize("name", NAMES)
def test_a_page_says_what_its_gold_copy_says(pages, name):
    actual, gold = pages[name], gold_pages.GOLD / name
    expected = gold.read_text(encoding="utf-8")
    if actual != expected:
        gold_pages.ACTUAL.mkdir(exist_ok=True)
        beside = gold_pages.ACTUAL / name
        beside.write_text(actual, encoding="utf-8")
        pytest.fail(
            f"{name} differs from its gold copy.\n"
            f"Compare: git diff --no-index {gold} {beside}\n"
            "If the change is meant: python tests/report/gold_pages.py"
        )


def test_every_gold_file_is_compared():
    assert {path.name for path in gold_pages.GOLD.iterdir()} == set(NAMES) == set(gold_pages.pages())


def test_scrubbing_leaves_no_version_and_no_picture(pages):
    for text in pages.values():
        assert "base64" not in text
        assert "0.1.0" not in text
