"""What ``passes streaks`` costs: a whole night's command, and a thousand headers.

Prints ratios measured in one run: the command against a bare interpreter that only
reads the same element file through sgp4, and headers against ``astropy.io.fits``.

Run: ``python tests/benchmarks/bench_streaks.py`` (PASSES_REAL_DATA as for the tests).
"""

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / os.environ.get("PASSES_REAL_DATA", "../shared/data")
ELEMENTS = DATA / "active_2025-09-13.tle.gz"
CONFIG = """
[rigs.wide]
focal_length_mm = 430
aperture_mm = 80
pixel_um = 3.75
width_px = 4000
height_px = 2800
quantum_efficiency = 0.8
"""
PLAN = """
[session]
rig = "wide"
start = 2025-09-13T19:30:00Z
subs = 94
exposure_s = 300
gap_s = 6
[target]
name = "a field of 2 by 1.4 degrees"
ra_deg = 314.7
dec_deg = 44.3
"""
HEADERS = 1000


def best(run, times=3):
    """The shortest of a few runs, seconds."""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        run()
        spent.append(time.perf_counter() - begun)
    return min(spent)


def worked(run, times=3):
    """The least time at the processor of programs that are run, seconds."""
    spent = []
    for _ in range(times):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        run()
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        parts = ("ru_utime", "ru_stime")
        spent.append(sum(getattr(after, p) - getattr(before, p) for p in parts))
    return min(spent)


def command(folder, *args):
    """Run the program as a user does."""
    words = [sys.executable, "-m", "passes", "--config", str(folder / "passes.toml")]
    subprocess.run([*words, "streaks", *args], check=True, capture_output=True)


def whole_night(folder):
    """The command on a real night against reading its elements with sgp4 alone."""
    if not ELEMENTS.exists():
        print(f"no real element sets at {ELEMENTS}: the night is left out")
        return
    args = (str(folder / "plan.toml"), "--at", "37.1,-3.4,1900")

    def ours():
        command(folder, *args, "--elements", str(ELEMENTS))

    def bare():
        subprocess.run([sys.executable, "-c", _BARE], check=True)

    print(f"8 h of 300 s subs, 2 × 1.4°, whole command: {best(ours):.2f} s")
    busy, least = worked(ours), worked(bare)
    print(f"  at the processor {busy:.2f} s (all that counts on a busy machine)")
    print(
        f"  against an interpreter that only reads the elements: {busy / least:.1f} ×"
    )


_BARE = f"""
import gzip
from sgp4.api import Satrec
lines = gzip.open({str(ELEMENTS)!r}, "rt").read().splitlines()
pairs = zip(lines, lines[1:])
sats = [Satrec.twoline2rv(a, b) for a, b in pairs if a[:2] == "1 " and b[:2] == "2 "]
"""


def headers(folder):
    """A thousand headers with solutions, against astropy reading each whole."""
    import warnings

    from astropy.io import fits
    from astropy.wcs import WCS

    from passes_plugins.streaks import fits_files
    from passes_plugins.streaks.solved import solved_frame

    source = ROOT / "fixtures" / "fits" / "03-distorted.fits"
    paths = [str(source)] * HEADERS

    def ours():
        for path in paths:
            solved_frame(fits_files.open_header(path).header)

    def theirs():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for path in paths:
                WCS(fits.getheader(path))

    mine, there = best(ours, 2), best(theirs, 2)
    print(f"{HEADERS} headers with distorted solutions: {mine:.2f} s")
    print(f"  astropy alone takes {there / mine:.1f} × as long")


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "passes.toml").write_text(CONFIG)
        (folder / "plan.toml").write_text(PLAN)
        whole_night(folder)
        headers(folder)


if __name__ == "__main__":
    main()
