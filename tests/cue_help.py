"""What tests of ``passes cue`` share: schedules in the near future, and real runs."""

import json
import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CAMERA = str(ROOT / "fixtures" / "camera_stand_in.py")


def steps(offsets_s, first=None, **changes):
    """Documents of steps so many seconds after now (or after a time)."""
    begin = time.time() if first is None else first
    made = []
    for i, offset in enumerate(offsets_s):
        when = datetime.fromtimestamp(begin + offset, UTC)
        made.append(
            {
                "id": f"step-{i}",
                "event": "start" if i % 2 == 0 else "stop",
                "time": when.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
                "subject": "TEST LAMP",
                "catalog_number": 80001,
                "rig": "long",
                "advice": {"exposure_s": 0.002, "pointing": {"azimuth_deg": 12.5}},
                "demo": True,
                **changes,
            }
        )
    return made


def written(path, documents):
    """The documents as a file."""
    path.write_text("".join(f"{json.dumps(one)}\n" for one in documents))
    return str(path)


def cue(*args, **more):
    """Start the program itself; the caller waits for it."""
    more.setdefault("stdin", subprocess.DEVNULL)
    environment = {**os.environ, **more.pop("env", {})}
    environment.pop("PASSES_DEBUG", None)
    return subprocess.Popen(
        [sys.executable, "-m", "passes", "cue", *map(str, args)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
        **more,
    )


def ran(*args, timeout=60, **more):
    """Run to the end: exit code, the steps given out, and stderr."""
    process = cue(*args, **more)
    try:
        out, err = process.communicate(timeout=timeout)
    finally:
        process.kill()
    return process.returncode, [json.loads(line) for line in out.splitlines()], err


def listening(process, within_s=60.0):
    """Wait until a run minds signals, so that one sent now does not come too early."""
    status = Path(f"/proc/{process.pid}/status")
    if not status.exists():
        time.sleep(2.5)  # no such folder on this system
        return

    def minds() -> bool:
        caught = int(status.read_text().split("SigCgt:")[1].split()[0], 16)
        return bool(caught >> (signal.SIGTERM - 1) & 1)

    awaited(process, minds, within_s)


def awaited(process, what, within_s=60.0):
    """Wait until something holds while a run goes on; a failure where it never does."""
    end = time.monotonic() + within_s
    while process.poll() is None and time.monotonic() < end:
        if what():
            return
        time.sleep(0.05)
    process.kill()
    raise AssertionError(f"it never came to that; told: {process.communicate()[1]}")


def executable(path, body, by=sys.executable):
    """A little program of ours."""
    path.write_text(f"#!{by}\n{body}")
    path.chmod(0o755)
    return str(path)


def shell(path, body):
    """The same in the language of the shell, which starts in no time."""
    return executable(path, body, "/bin/sh")
