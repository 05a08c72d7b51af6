"""Canonical JSON of answers and pages, against RFC 8785 and the ECMAScript engine of a browser.

Sources: RFC 8785, JSON Canonicalization Scheme, sections 3.2.2 and 3.2.3 (numbers as ECMAScript's
Number::toString, keys by UTF-16 units; read from memory, believed). JSON.stringify of Chromium's engine: computed
here, skipped where there is no browser.
"""

from __future__ import annotations

import json
import random
import struct
from collections.abc import Iterator
from typing import Any

import pytest

from fecallab.vet.canonical import canonical


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    """An empty page of a browser."""
    tab = browser.new_page()
    yield tab
    tab.close()


def numbers() -> list[float]:
    """Numbers of every size, by their bits, and those that people write."""
    chance = random.Random(7)
    found = [struct.unpack("d", struct.pack("Q", chance.getrandbits(64)))[0] for _ in range(4000)]
    found = [value for value in found if value == value and abs(value) != float("inf")]
    found += [chance.random() * 10 ** chance.randint(-12, 25) for _ in range(2000)]
    found += [round(chance.uniform(-5000, 5000), chance.randint(0, 4)) for _ in range(2000)]
    return [*found, 0.0, -0.0, 1e21, 1e-6, 1e-7, 5e-324, 1.7976931348623157e308, 9007199254740992.0]


def test_numbers_are_written_as_a_browser_writes_them(page: Any) -> None:
    drawn = numbers()
    written = page.evaluate("text => JSON.parse(text).map(one => JSON.stringify(one))", json.dumps(drawn))
    differing = [
        (one, theirs) for one, theirs in zip(drawn, written, strict=True) if canonical(one).decode() != theirs
    ]
    assert len(drawn) > 7000 and differing == []


def test_texts_and_keys_are_written_as_a_browser_writes_them(page: Any) -> None:
    texts = [
        "",
        "é",
        "€",
        '"',
        "\\",
        "/",
        "<script>",
        "\n\r\t\b\f",
        "\x00\x1f\x7f",
        "🐢",
        "\u2028",
        "דּ",
        "\ufb33",
    ]
    value = {text + str(n): text for n, text in enumerate(texts)} | {text: n for n, text in enumerate(texts)}
    theirs = page.evaluate(
        "text => { const one = JSON.parse(text);"
        " return '{' + Object.keys(one).sort().map(key => JSON.stringify(key) + ':' + JSON.stringify(one[key]))"
        ".join(',') + '}'; }",
        json.dumps(value),
    )
    assert canonical(value).decode() == theirs


def test_keys_are_sorted_as_the_rfc_shows() -> None:
    """The order of RFC 8785, section 3.2.3: carriage return, 1, U+0080, ö, euro, emoji, Hebrew dalet."""
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    found = json.loads(canonical(dict.fromkeys(keys, 0)))
    assert list(found) == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
