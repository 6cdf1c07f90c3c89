"""What every test may use: paths, real data if present, and no network."""

import csv
import ipaddress
import os
import signal
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parent.parent

# A run started in the background may ignore Ctrl-C, and all it starts with it; tests
# that interrupt programs would wait for ever.
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# A busy machine is not a failed property, so examples have no time limit.  Where CI
# says what it is, as .ci/run does, examples are the same every time: a change is judged
# by what it changes.  Everywhere else they are new ones at every run.
settings.register_profile(
    "passes",
    deadline=None,
    derandomize=bool(os.environ.get("CI")),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("passes")


@pytest.fixture(scope="session")
def root() -> Path:
    """The top of the repository."""
    return ROOT


@pytest.fixture(scope="session")
def package() -> Path:
    """The installed package, wherever it stands: data and schemas lie in it."""
    import passes

    return Path(passes.__file__).parent


@pytest.fixture(scope="session")
def fixtures() -> Path:
    """The folder of invented and published data."""
    return ROOT / "fixtures"


@pytest.fixture(scope="session")
def real_data() -> Path:
    """Real element sets, kept outside the repository; skips where they are absent.

    ``PASSES_REAL_DATA`` names the folder, relative to the repository or absolute.
    """
    folder = ROOT / os.environ.get("PASSES_REAL_DATA", "../shared/data")
    if not folder.is_dir():
        pytest.skip(f"no real element sets at {folder} (set PASSES_REAL_DATA)")
    return folder


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say by what means tests took the network away from programs they started."""
    reports = (
        r for kind in ("passed", "failed") for r in terminalreporter.getreports(kind)
    )
    told = {
        how for r in reports for name, how in r.user_properties if "network" in name
    }
    for how in sorted(told):
        terminalreporter.write_line(
            f"no network, for the tests of the wheel, by: {how}"
        )


def _is_local(address: Any) -> bool:
    """Whether an address stays on this machine."""
    if not isinstance(address, tuple):
        return True  # a path: a socket within the machine
    host = str(address[0]).split("%")[0]
    if host in ("", "localhost"):
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@pytest.fixture(autouse=True)
def _no_network(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """Refuse every connection that leaves the machine, unless marked ``network``."""
    if request.node.get_closest_marker("network"):
        yield
        return

    def guarded(name: str) -> Any:
        original = getattr(socket.socket, name)

        def call(self: socket.socket, *args: Any) -> Any:
            if not _is_local(args[-1]):
                raise RuntimeError(
                    f"a test tried to reach {args[-1]}; tests are offline"
                )
            return original(self, *args)

        return call

    for name in ("connect", "connect_ex", "sendto"):
        monkeypatch.setattr(socket.socket, name, guarded(name))
    yield


@pytest.fixture
def only_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever else is installed or chosen, the test sees the bundled plugins."""
    from passes.registry import Registry

    found = Registry.from_entry_points

    def ours(**choices: Any) -> Registry:
        return found(only=["passes"], **choices)

    monkeypatch.setattr(Registry, "from_entry_points", ours)
    monkeypatch.delenv("PASSES_DISABLE_PLUGINS", raising=False)
    monkeypatch.delenv("PASSES_STRICT_PLUGINS", raising=False)


@pytest.fixture(scope="session")
def published(fixtures: Path) -> Callable[[str], list[dict[str, str]]]:
    """Rows of a published table kept in ``fixtures/authorities``, as text."""

    def rows(name: str) -> list[dict[str, str]]:
        text = (fixtures / "authorities" / name).read_text(encoding="utf-8")
        lines = [line for line in text.splitlines() if not line.startswith("#")]
        return list(csv.DictReader(lines))

    return rows
