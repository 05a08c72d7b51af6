#!/usr/bin/env bash
# Runs the tests of the marking window with the oldest napari that is promised, in a virtual environment of its own.
# tests/oldest_napari.sh [FOLDER]; the folder is kept, so that a second run is quick.
set -euo pipefail
cd "$(dirname "$0")/.."
folder=${1:-${TMPDIR:-/tmp}/fecallab-oldest-napari}
[ -x "$folder/bin/python" ] || python3 -m venv "$folder"
"$folder/bin/python" -m pip install --quiet --upgrade-strategy only-if-needed -e ".[napari]" "napari==0.7.*" \
  "pytest>=8.0" "pytest-qt>=4.4" "pytest-benchmark>=4.0" "hypothesis>=6.100"
"$folder/bin/python" -c "import napari; print('napari', napari.__version__)"
run=()
if [ -z "${DISPLAY:-}" ]; then
  run=(xvfb-run -a -s "-screen 0 1600x1200x24")
fi
FECALLAB_CI=1 "${run[@]}" "$folder/bin/python" -m pytest -p no:cacheprovider tests/plugins
