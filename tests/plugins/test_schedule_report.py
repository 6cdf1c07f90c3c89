"""The schedule as a report, for whoever shows the night."""

import json
from importlib.resources import files

import pytest
from click.testing import CliRunner

pytest.importorskip("passes_plugins.scheduling")
from passes.cli import cli
from passes.config import Config
from passes.forecast import Request, build
from passes.model import Session
from passes.plans import read_plan, subs_of
from passes.registry import Registry

PLAN = files("passes") / "data" / "demo" / "session.toml"


@pytest.fixture(scope="module")
def services():
    registry = Registry.from_entry_points(only=["passes"])
    return build(Request(demo=True), registry, Config())


def typed(*args):
    result = CliRunner().invoke(cli, ["schedule", "--demo", "--json", *args])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)["steps"]


def plain(rows):
    return json.loads(json.dumps([dict(row) for row in rows], default=dict))


def test_it_says_what_the_command_says():
    """Of rigs that have no session in the demo."""
    registry = Registry.from_entry_points(only=["passes"])
    request = Request(demo=True, rigs=("long", "wide"))
    services = build(request, registry, Config())
    session = Session(night=services.night, rigs=services.rigs)
    (report,) = services.report(session, ("schedule",))
    assert report.reporter == "schedule"
    assert report.summary["steps"] == len(report.rows) > 40
    assert plain(report.rows) == typed("--rig", "long", "--rig", "wide")


def test_a_session_s_subs_are_in_it(services):
    plan = read_plan(PLAN)
    session = Session(
        night=services.night,
        rigs=services.rigs,
        targets=plan.targets,
        subs=subs_of(plan),
        overheads=plan.overheads,
        dither_arcsec=plan.dither_arcsec,
    )
    (report,) = services.report(session, ("schedule",))
    assert plain(report.rows) == typed("--plan", str(PLAN)) == typed()
    steps = [(row["event"], row["rig"]) for row in report.rows]
    assert steps.count(("start", "field")) > 100
    assert ("hold", "field") in steps


def test_nobody_gets_it_unasked(services):
    session = Session(night=services.night, rigs=services.rigs)
    assert "schedule" not in [one.kind for one in services.report(session)]
    kinds = [one.kind for one in services.report(session, ("*", "schedule"))]
    assert kinds.count("schedule") == 1
    assert "twilight" in kinds
