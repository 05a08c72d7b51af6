"""How the same work on many pictures grows with the workers of a dask scheduler, in one run.

::

    python tests/bench/many_pictures.py --pictures 1000 --workers 1 2
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from functools import partial
from pathlib import Path


def main() -> int:
    """Cut pictures out of the drawn slides, spoil one, and do them all with each number of workers."""
    from distributed import LocalCluster
    from PIL import Image

    from fecallab.cli.image_detect_all import proposals_of
    from fecallab.imaging.pool import on_each

    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pictures", type=int, default=1000)
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        whole = Image.open(Path(__file__).parents[2] / "sample_slides" / "dragon_before_1.jpg")
        files = []
        for number in range(asked.pictures):
            left, top = 13 * number % (whole.width - 320), 29 * number % (whole.height - 240)
            file = Path(place) / f"cut {number:04d}.png"
            whole.crop((left, top, left + 320, top + 240)).save(file)
            files.append(file)
        files[len(files) // 2].write_bytes(b"spoilt")
        print("| workers | seconds | pictures done | told as spoilt |\n| --- | --- | --- | --- |")
        for workers in asked.workers:
            with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster:
                work = partial(proposals_of, um_per_px=0.65)
                list(
                    on_each(work, files[:workers], scheduler=cluster.scheduler_address)
                )  # everybody is awake
                started = time.perf_counter()
                found = list(on_each(work, files, scheduler=cluster.scheduler_address))
                seconds = time.perf_counter() - started
            done = sum(one.failed is None for one in found)
            print(f"| {workers} | {seconds:.1f} | {done} | {len(found) - done} |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
