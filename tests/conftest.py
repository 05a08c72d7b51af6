"""One headless Chromium for all tests that need a browser: two drivers in one process disturb each other."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = Path("/usr/bin/chromium")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Give Chromium; skipped with the reason where there is none, a failure in CI."""

    def without(reason: str) -> None:
        if os.environ.get("FECALLAB_CI") == "1":
            pytest.fail(f"the browser tests must run in CI: {reason}")
        pytest.skip(reason)

    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError:
        without("playwright is not installed")
    if not CHROMIUM.exists():
        without(f"{CHROMIUM} is not there")
    with sync_playwright() as driver:
        try:
            chromium = driver.chromium.launch(
                executable_path=str(CHROMIUM), args=["--no-sandbox", "--disable-gpu"]
            )
        except Error as problem:
            without(f"Chromium does not start: {problem}")
        yield chromium
        chromium.close()
