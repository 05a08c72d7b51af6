"""Slips between g and kg: told in plain figures, with the way to mend them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .conftest import Said

Do = Callable[..., dict[str, Any]]


def test_a_weight_a_thousand_times_off_is_told_with_its_correction(
    do: Do, fecallab: Callable[..., Said], float_exam: Do
) -> None:
    do("animal", "add", "Pip", "--species", "leopard gecko", "--adult")
    do("animal", "weigh", "Pip", "45", "--at", "2025-03-04 08:00")
    float_exam("Pip", "2025-03-04", "oxyurid=3")
    plan = ["--drug", "fenbendazole", "--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100"]
    more = ["--route", "by mouth", "--interval-days", "14", "--doses", "2", "--written", "2025-03-05"]
    do("plan", "add", "C1", "--vet", "Dr Ilse Varnholt", *plan, *more)
    said = fecallab("animal", "weigh", "Pip", "45000", "--at", "2025-03-06 08:00").out
    assert "1 000 times as much" in said and "e+" not in said
    assert "fecallab correct W2 mass_g=NUMBER" in said
    refused = fecallab("dose", "work-out", "C1", "--at", "2025-03-06 08:10")
    assert refused.code == 1
    assert "45 000 g is no weight of a gecko" in refused.err and "\\u00a0" not in refused.err


def test_a_limit_is_written_without_exponents(do: Do, fecallab: Callable[..., Said]) -> None:
    do("animal", "add", "Pip", "--species", "leopard gecko", "--adult")
    assert "it lies outside 0.05 to 1000000." in fecallab("animal", "weigh", "Pip", "0,043").err
