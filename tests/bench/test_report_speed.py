"""How long the page of an exam with 40 phone pictures takes (budget: under 5 s), beside reading the pictures alone.

Run: ``python -m pytest tests/bench/test_report_speed.py --benchmark-enable --benchmark-columns=min,median``.
What the page costs beyond its pictures is the ratio of the two medians.
"""

import io
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

pytest.importorskip("pytest_benchmark")

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))
import invented_cases
import invented_pages

PICTURES = 40


@pytest.fixture(scope="module")
def exam(tmp_path_factory):
    """Give the page of an exam with 40 pictures of 12 megapixels as files, 20 marks in each."""
    folder = tmp_path_factory.mktemp("pictures")
    page = invented_pages.many_pictures(PICTURES, marks=20)
    blocks = []
    for place, block in enumerate(page.pictures):
        path = folder / f"field-{place}.jpg"
        if place < 3:
            small = Image.open(io.BytesIO(block.picture))
            small.resize((4000, 3000), Image.Resampling.BICUBIC).save(path, "JPEG", quality=88)
        else:
            path.hardlink_to(folder / f"field-{place % 3}.jpg")
        blocks.append(replace(block, picture=path))
    return replace(page, pictures=tuple(blocks))


@pytest.mark.benchmark(group="exam page, 40 pictures")
def test_reading_and_scaling_the_pictures_alone(benchmark, exam):
    from fecallab.report.pictures import jpeg_of

    sizes = benchmark.pedantic(
        lambda: [len(jpeg_of(block)) for block in exam.pictures], rounds=3, warmup_rounds=1
    )
    benchmark.extra_info["picture_bytes"] = sum(sizes)
    assert len(sizes) == PICTURES


@pytest.mark.benchmark(group="exam page, 40 pictures")
def test_making_the_whole_page(benchmark, exam):
    from fecallab.report.page import render_exam

    html = benchmark.pedantic(lambda: render_exam(exam), rounds=3, warmup_rounds=1)
    benchmark.extra_info["page_bytes"] = len(html.encode("utf-8"))
    assert html.count("<img ") == PICTURES


@pytest.mark.benchmark(group="case page")
def test_making_a_case_page_with_its_chart(benchmark):
    from fecallab.report.page import render_case

    page = invented_cases.followed_case()
    html = benchmark.pedantic(lambda: render_case(page), rounds=3, warmup_rounds=1)
    assert html.count('<svg class="chart') == 2
