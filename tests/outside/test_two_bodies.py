"""The fit that tells two bodies from one, against a reference library."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.motility.fit_sides import TABLE, WHERE, fit, read_table
from fecallab.imaging.motility.sides import data_folder


@pytest.mark.parametrize("where", WHERE)
def test_the_weights_are_those_of_a_plain_logistic_regression(where: str) -> None:
    """Reference library: statsmodels Logit, which pulls no weight to 0; all its weights are above 0 here."""
    import statsmodels.api as sm

    pairs = read_table(data_folder() / TABLE)
    here = np.array(pairs.where) == where
    differ, two = np.array(pairs.differ)[here], np.array(pairs.two)[here]
    outside = sm.Logit(two.astype(float), sm.add_constant(differ)).fit(disp=0)
    found = fit(differ, two)
    assert [-found.two_from, *found.weights] == pytest.approx(outside.params, abs=0.05)
