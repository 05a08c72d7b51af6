"""The ranker: the same table gives the same coefficients, and no size is in it."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.detect.features import NAMES
from fecallab.imaging.detect.ranker import drawn_ranker, fit_ranker
from fecallab.imaging.detect.train import COEFFICIENTS, TABLE, data_folder, fit_table, write_ranker


def test_training_again_gives_the_same_coefficients(tmp_path) -> None:
    from dataclasses import replace

    kept = drawn_ranker()
    again = fit_table(data_folder() / TABLE)
    assert again.edition == kept.edition
    np.testing.assert_allclose(again.weights, kept.weights, atol=1e-5)
    np.testing.assert_allclose(again.mean, kept.mean, atol=1e-5)
    assert again.bias == pytest.approx(kept.bias, abs=1e-5)
    write_ranker(tmp_path / "again.json", replace(again, threshold=kept.threshold))
    assert (tmp_path / "again.json").read_text() == (data_folder() / COEFFICIENTS).read_text()


def test_no_term_knows_a_size() -> None:
    assert not [name for name in NAMES if name.endswith(("_um", "_px", "area", "length", "width", "size"))]
    assert {name for term in drawn_ranker().terms for name in term} <= set(NAMES)


def test_a_plain_boundary_is_learnt() -> None:
    rng = np.random.default_rng(0)
    x = rng.normal(size=(500, 2))
    ranker = fit_ranker(x, x[:, 0] > 0.3, (("a",), ("b",)), edition="t", names=("a", "b"))
    assert ranker.weights[0] > 5 * abs(ranker.weights[1])
    assert (ranker.score(x)[x[:, 0] > 0.6] > 0.5).all()
