"""Several processes: the same bits, no recursion, nobody left behind."""

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from properties.brute_force import same_bits, search

from passes.errors import PassesError
from passes.finder import parallel
from passes.finder.block import Searcher
from passes.model import Site

SIERRA = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
SCRIPT = """
import sys
sys.path.insert(0, {tests!r})
from datetime import timedelta
from benchmarks.made_catalogue import START, made_catalogue
from passes.finder import parallel, search_passes
from passes.model import Site

{before}
site = Site(latitude_deg=37.1, longitude_deg=-3.4)
def main():
    catalogue = made_catalogue({count}, seed=1)
    end = START + timedelta(hours={hours})
    table = search_passes(
        catalogue, site, START, end, processes=2, fast=False,
        progress=lambda done, total: print(done, total, flush=True),
    )
    print("passes", len(table), flush=True)
{run}
"""
GUARDED = "if __name__ == '__main__':\n    main()"
SPAWN = "parallel._may_fork = lambda: False"
TESTS = str(Path(__file__).resolve().parent.parent)


def script(folder: Path, count=400, hours=6, before="", run=GUARDED) -> Path:
    path = folder / "searching.py"
    text = SCRIPT.format(tests=TESTS, count=count, hours=hours, before=before, run=run)
    path.write_text(text)
    return path


def run_script(path: Path, *options: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, *options, str(path)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def parents() -> dict[int, int]:
    """Every process that runs and its parent.

    Not those that have ended: where nobody collects orphans, they stay listed.
    """
    found = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            fields = (folder / "stat").read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if fields[0] != "Z":
            found[int(folder.name)] = int(fields[1])
    return found


def children_of(number: int) -> list[int]:
    """Processes whose parent is a given one."""
    return [child for child, parent in parents().items() if parent == number]


@pytest.fixture(scope="module")
def alone():
    """What one process finds."""
    return search(made_catalogue(500, seed=31), SIERRA, START, fast=False)


@pytest.mark.parametrize("count", [2, 3])
@pytest.mark.parametrize("forked", [True, False])
def test_the_same_bits(monkeypatch, alone, forked, count):
    if forked and not sys.platform.startswith("linux"):
        pytest.skip("forking is for Linux")
    monkeypatch.setattr(parallel, "_may_fork", lambda: forked)
    told = []
    table = search(
        made_catalogue(500, seed=31),
        SIERRA,
        START,
        processes=count,
        fast=False,
        progress=lambda done, total: told.append((done, total)),
    )
    same_bits(table, alone)
    assert told[0] == (0, 500)
    assert told[-1] == (500, 500)
    assert told == sorted(told)
    assert multiprocessing.active_children() == []


def test_reasons_come_back_with_names(monkeypatch):
    catalogue = made_catalogue(300, seed=31)
    drag = catalogue.bstar.copy()
    drag[7] = np.nan
    from dataclasses import replace

    broken = replace(catalogue, bstar=drag, satrecs=[])
    monkeypatch.setattr(parallel, "_may_fork", lambda: False)
    table = search(broken, SIERRA, START, 1.0, processes=2, fast=False)
    assert [(s.catalog_number, s.name) for s in table.skipped] == [
        (80008, "INVENTED 7")
    ]


def test_progress_in_one_process(alone):
    told = []
    search(
        made_catalogue(50),
        SIERRA,
        START,
        1.0,
        progress=lambda done, total: told.append((done, total)),
    )
    assert told == [(0, 50), (50, 50)]


def test_threads_or_another_platform_forbid_forking(monkeypatch):
    monkeypatch.delitem(sys.modules, "heyoka", raising=False)
    if sys.platform == "linux" and threading.active_count() == 1:
        assert parallel._may_fork()
    hold = threading.Event()
    thread = threading.Thread(target=hold.wait)
    thread.start()
    try:
        assert not parallel._may_fork()
    finally:
        hold.set()
        thread.join()
    monkeypatch.setattr(parallel.sys, "platform", "darwin")
    assert not parallel._may_fork()


def test_heyoka_forbids_forking(monkeypatch):
    monkeypatch.setitem(sys.modules, "heyoka", object())
    assert not parallel._may_fork()


@pytest.mark.parametrize("before", ["", SPAWN], ids=["forked", "spawned"])
def test_a_script(tmp_path, before):
    done = run_script(script(tmp_path, before=before))
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("passes") == 1
    assert done.stderr == ""


def test_a_script_without_a_guard_is_told(tmp_path):
    # the workers would run the script again; each of them must refuse
    done = run_script(script(tmp_path, before=SPAWN, run="main()"))
    assert done.returncode != 0
    assert "search process ended before its work was done" in done.stderr
    assert "passes" not in done.stdout


def test_a_module_run_with_m(tmp_path):
    path = script(tmp_path, before=SPAWN)
    done = subprocess.run(
        [sys.executable, "-m", path.stem],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("passes") == 1


def test_a_worker_starts_no_workers(tmp_path):
    before = "def refuse(*args):\n    raise AssertionError\nparallel._workers = refuse"
    run = (
        "if __name__ == '__main__':\n"
        "    from multiprocessing import get_context\n"
        "    child = get_context('spawn').Process(target=main)\n"
        "    child.start()\n"
        "    child.join()\n"
        "    sys.exit(child.exitcode)"
    )
    done = run_script(script(tmp_path, before=before, run=run))
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("passes") == 1


def test_a_fault_in_a_worker_is_raised_here(monkeypatch):
    def broken(self, rows):
        raise ZeroDivisionError("row 3")

    monkeypatch.setattr(Searcher, "search", broken)
    monkeypatch.setattr(parallel, "_may_fork", lambda: True)
    with pytest.raises(ZeroDivisionError, match="row 3"):
        search(made_catalogue(60), SIERRA, START, 1.0, processes=2, fast=False)
    assert multiprocessing.active_children() == []


def test_a_fault_of_the_one_who_is_told_ends_the_workers(monkeypatch):
    def told(done, total):
        if done:
            raise RuntimeError("enough")

    monkeypatch.setattr(parallel, "_may_fork", lambda: True)
    with pytest.raises(RuntimeError, match="enough") as caught:
        search(made_catalogue(60), SIERRA, START, 1.0, processes=2, progress=told)
    assert caught.tb is not None  # the failed call's frames are still held
    assert multiprocessing.active_children() == []


def test_a_worker_that_vanishes_is_noticed(monkeypatch):
    def vanish(self, rows):
        os._exit(1)

    monkeypatch.setattr(Searcher, "search", vanish)
    monkeypatch.setattr(parallel, "_may_fork", lambda: True)
    with pytest.raises(PassesError, match="ended before its work was done"):
        search(made_catalogue(60), SIERRA, START, 1.0, processes=2, fast=False)
    assert multiprocessing.active_children() == []


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
@pytest.mark.parametrize("before", ["", SPAWN], ids=["forked", "spawned"])
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_an_interrupted_search_leaves_nobody(tmp_path, before, how):
    # long enough to be caught at it
    path = script(tmp_path, count=3000, hours=72, before=before)
    running = subprocess.Popen(
        [sys.executable, str(path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert running.stdout is not None
        assert running.stdout.readline() == "0 3000\n"
        assert running.stdout.readline() != ""  # the first block is done
        workers = children_of(running.pid)
        assert len(workers) >= 2
        running.send_signal(how)
        _, errors = running.communicate(timeout=60)
    finally:
        running.kill()
    assert running.returncode != 0
    assert ("KeyboardInterrupt" in errors) == (how == signal.SIGINT)
    deadline = time.monotonic() + 60.0
    while not parents().keys().isdisjoint(workers):
        assert time.monotonic() < deadline, "a worker stayed behind"
        time.sleep(0.05)
