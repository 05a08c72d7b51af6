"""Many small trees of questions, each adding a little to how likely something is; grown by :mod:`fecallab.imaging.grow`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Tree:
    """Questions, the first one first; what asks none adds its word.

    Attributes
    ----------
    asks : ndarray of int, shape (places,)
        Which of the evidence, -1 where a word is given.
    limit : ndarray, shape (places,)
        Up to this the answer is no.
    no, yes : ndarray of int, shape (places,)
        Where to go on.
    word : ndarray, shape (places,)
        By how much likelier, as a logarithm.
    """

    asks: NDArray[np.intp]
    limit: Values
    no: NDArray[np.intp]
    yes: NDArray[np.intp]
    word: Values

    def said_of(self, evidence: Values) -> Values:
        """Return the word for each row of evidence."""
        at = np.zeros(len(evidence), np.intp)
        rows = np.arange(len(evidence))
        while (asks := self.asks[at]).max(initial=-1) >= 0:
            more = evidence[rows, np.maximum(asks, 0)] > self.limit[at]
            at = np.where(asks < 0, at, np.where(more, self.yes[at], self.no[at]))
        return self.word[at]


@dataclass(frozen=True)
class Trees:
    """Trees, and what is said before any is asked."""

    before: float
    trees: Sequence[Tree]

    def odds(self, evidence: Values) -> Values:
        """Return the logarithm of how much likelier than not each row is right.

        Parameters
        ----------
        evidence : ndarray, shape (rows, names)
        """
        return np.asarray(
            self.before + sum((one.said_of(evidence) for one in self.trees), np.zeros(len(evidence)))
        )

    def chance(self, evidence: Values) -> Values:
        """Return the chance that each row is right."""
        return np.asarray(expit(self.odds(evidence)))


def as_told(trees: Trees, names: Sequence[str], about: dict[str, object]) -> str:
    """Return trees as JSON, one to a line: for each place what it asks, the limit and where to go on, or its word."""
    lines = [f"{json.dumps(key)}: {json.dumps(value)}" for key, value in about.items()]
    told = []
    for one in trees.trees:
        places = zip(one.asks, one.limit, one.no, one.yes, one.word, strict=True)
        told.append(
            [
                round(float(word), 4) if asks < 0 else [names[asks], float(f"{limit:.5g}"), int(no), int(yes)]
                for asks, limit, no, yes, word in places
            ]
        )
    lines += [f'"evidence": {json.dumps(list(names))}', f'"before": {round(trees.before, 4)}']
    grown = ",\n".join(f"  {json.dumps(one)}" for one in told)
    return "{\n " + ",\n ".join(lines) + ',\n "trees": [\n' + grown + "\n ]\n}\n"


def read(text: str, names: Sequence[str]) -> Trees:
    """Return the trees of a text that :func:`as_told` made.

    Raises
    ------
    ValueError
        When they ask for other evidence.
    """
    told = json.loads(text)
    if tuple(told["evidence"]) != tuple(names):
        raise ValueError("the trees belong to other evidence")
    number = {name: k for k, name in enumerate(names)}
    trees = []
    for places in told["trees"]:
        rows = [
            (number[one[0]], one[1], one[2], one[3], 0.0) if isinstance(one, list) else (-1, 0.0, 0, 0, one)
            for one in places
        ]
        asks, limit, no, yes, word = (np.array(column) for column in zip(*rows, strict=True))
        trees.append(Tree(asks, limit.astype(float), no, yes, word.astype(float)))
    return Trees(float(told["before"]), tuple(trees))
