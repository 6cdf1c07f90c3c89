"""``passes tonight`` about objects asked for by name, and what an empty answer says."""

import json
from importlib.resources import files

import pytest

from passes.registry import Registry


@pytest.fixture(autouse=True)
def only_our_plugins(monkeypatch):
    found = Registry.from_entry_points
    monkeypatch.setattr(
        Registry, "from_entry_points", lambda **how: found(only=["passes"], **how)
    )


def renumbered(line: str, number: str) -> str:
    body = line[:2] + number + line[7:68]
    total = sum(int(c) if c.isdigit() else c == "-" for c in body)
    return body + str(total % 10)


@pytest.fixture
def tonight(run, tmp_path):
    """The evening of the invented station with an invented craft docked to it."""
    text = (files("passes") / "data" / "demo" / "elements.tle").read_text("utf-8")
    name, one, two = text.splitlines()[:3]
    craft = ["DEMO FERRY", renumbered(one, "80003"), renumbered(two, "80003")]
    file = tmp_path / "docked.tle"
    file.write_text("\n".join([name, one, two, *craft]) + "\n", encoding="utf-8")

    columns = "catalog_number,name,object_class,value,sigma,convention,basis,source"
    bright = "80003,,,-1,0.5,lambert90,invented: a bright craft,invented"
    table = tmp_path / "bright.csv"
    table.write_text(f"{columns}\n{bright}\n", encoding="utf-8")
    config = tmp_path / "passes.toml"
    config.write_text(f"[plugins.diffuse-sphere]\ntable = '{table}'\n")

    def typed(*args, on="2029-03-17"):
        where = ("--elements", str(file), "--at", "41,-2.4,1150", "--date", on)
        result = run("--config", str(config), "tonight", *where, *args)
        assert result.exit_code == 0, result.output
        return result.stdout

    return typed


def shown(said: str) -> set[int]:
    return {row["catalog_number"] for row in json.loads(said)["passes"]}


def test_a_docked_craft_is_left_to_its_station_unless_named(tonight):
    assert shown(tonight("--json")) == {80001}
    both = ("--object", "80001", "--object", "80003", "--json")
    assert shown(tonight(*both)) == {80001, 80003}


def test_an_empty_answer_counts_in_words_and_says_how_to_see_all(tonight):
    said = " ".join(tonight("--object", "80003", "--magnitude", "-30").split())
    assert "of 1 object, " in said
    assert "--all lists every pass" in said


def test_where_all_are_left_out_there_was_nothing_to_search(tonight):
    said = " ".join(tonight(on="2031-01-01").split())
    assert "there was no object to search; passes elements fetch gets fresh" in said
    assert "2 objects left out, each for this: their elements are over 30 days" in said


def test_a_sentence_inside_the_line_of_darkness_loses_its_stop(run, tonight):
    said = " ".join(tonight("--at", "60,20", on="2029-06-21").split())
    assert "below the horizon; Sun down" in said
