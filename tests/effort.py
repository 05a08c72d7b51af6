"""How many examples the slow properties try: few in every run, all of them when asked for."""

import os


def examples(thorough: int) -> int:
    """Return how many examples to try: a third of `thorough`, or all with FECALLAB_THOROUGH=1."""
    return thorough if os.environ.get("FECALLAB_THOROUGH") == "1" else max(4, thorough // 3)
