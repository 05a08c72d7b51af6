"""Share the invented pages and the browser with the tests of this folder."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
