"""How much the slow tests try: little in every run, all of it when asked for."""

import os


def thorough() -> bool:
    """Say whether everything is to be tried, with FECALLAB_THOROUGH=1."""
    return os.environ.get("FECALLAB_THOROUGH") == "1"


def examples(all_of_them: int) -> int:
    """Return how many examples to try: a third of them, or all when everything is to be tried."""
    return all_of_them if thorough() else max(4, all_of_them // 3)
