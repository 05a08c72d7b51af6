"""One headless Chromium for the tests of the page, without a network, and what every test does with it."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
}
DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}


class Tab:
    """One open page, with everything that it asked for and complained of."""

    def __init__(self, page: Any, context: Any) -> None:
        self.page = page
        self.context = context
        self.asked: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def saved(self) -> bytes:
        """Save the answer and return what was saved."""
        with self.page.expect_download() as download:
            self.page.locator("#save").click()
        return Path(download.value.path()).read_bytes()


@pytest.fixture
def open_tab(browser: Any) -> Iterator[Callable[..., Tab]]:
    """Open a file in a tab of its own: ``open_tab(path, PHONE)``."""
    contexts = []

    def opened(path: Path, *settings: dict[str, Any], **more: Any) -> Tab:
        merged: dict[str, Any] = {"offline": True, "accept_downloads": True}
        for one in (*settings, more):
            merged |= one
        context = browser.new_context(**merged)
        contexts.append(context)
        tab = Tab(context.new_page(), context)
        tab.page.goto(path.as_uri())
        return tab

    yield opened
    for context in contexts:
        context.close()
