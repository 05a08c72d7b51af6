"""Long work: where it runs."""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import Any, Protocol


class Background(Protocol):
    """Where long work runs."""

    def run(
        self,
        title: str,
        steps: Generator[tuple[int, int], None, Any],
        done: Callable[[Any], None],
        failed: Callable[[Exception], None],
    ) -> None:
        """Run a generator that yields (done, whole) and returns a result."""

    def stop(self) -> None:
        """Stop what runs; nothing is called any more."""


class AtOnce:
    """Runs long work at once: where there is no window."""

    def run(
        self,
        title: str,
        steps: Generator[tuple[int, int], None, Any],
        done: Callable[[Any], None],
        failed: Callable[[Exception], None],
    ) -> None:
        """Run a generator to its end."""
        try:
            while True:
                next(steps)
        except StopIteration as end:
            done(end.value)
        except Exception as error:
            failed(error)

    def stop(self) -> None:
        """Nothing runs."""
