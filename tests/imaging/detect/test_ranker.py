"""The ranker: the same table gives the same coefficients, and no size is in it."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.detect.features import NAMES
from fecallab.imaging.detect.ranker import default_terms, drawn_ranker, fit_ranker
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


@pytest.mark.parametrize("seed", [161, 173, 179, 197])
def test_few_rows_and_many_terms_do_not_run_away(seed: int) -> None:
    """The spring bounds the weights: at the best fit it holds no more than a fit of nothing costs."""
    rng = np.random.default_rng(seed)
    rows = int(rng.integers(30, 400))
    features = rng.standard_t(2, (rows, len(NAMES)))
    positive = features[:, 0] + features[:, 1] * features[:, 2] + rng.normal(0, 0.3, rows) > 1
    weight = np.where(positive, 50.0, 1.0)
    found = fit_ranker(features, positive, default_terms(), edition="x", weight=weight, ridge=0.05)
    assert np.sum(found.weights**2) <= 2 * weight.sum() * np.log(2) / 0.05
