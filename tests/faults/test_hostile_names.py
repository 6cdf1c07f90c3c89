"""Names that mean harm, through every way out of the program.

Each answer is taken apart by a reader that knows nothing of us: its shape is that of
an answer with harmless names, and the names come back as data.
"""

from xml.etree import ElementTree

import pytest
from hostile import scene
from hostile.exits import EXITS, Trial
from hostile.names import FEW, NAMES, core, harm, stacked

from passes import testing as kit
from passes.elements import as_catalogue, read, read_text, tle_text
from passes.model.text import json_safe, plain
from passes.options.formats import cell, json_bytes


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """Two names of each kind; ``hostile_table.py`` sends all of them."""
    return Trial(tmp_path_factory.mktemp("hostile"), FEW)


@pytest.mark.parametrize("name", EXITS)
def test_names_come_out_as_data_and_change_nothing_else(
    name: str, trial: Trial
) -> None:
    assert trial.troubles(name) == []
    lost = trial.lost(name)
    assert lost == [] or (not EXITS[name].every and name != "HTML")
    assert len(lost) < len(FEW) / 2


@pytest.mark.parametrize("label", NAMES)
def test_a_name_is_one_harmless_line(label: str) -> None:
    shown = plain(NAMES[label])
    assert harm(shown, allowed="") == ""
    assert stacked(shown) == ""
    assert len(shown) <= 200
    assert core(NAMES[label])[:4] in core(shown)


def test_letters_keep_the_marks_that_scripts_need() -> None:
    assert plain("Z\u0301\u0323 ก็้") == "Z\u0301\u0323 ก็้"


@pytest.mark.parametrize("text", NAMES.values(), ids=NAMES)
def test_a_figure_holds_any_text(text: str) -> None:
    from passes.charts import paper
    from passes.charts.theme import palette

    for given in (paper.plain(text), paper.plain(paper.plain(text) + " again")):
        figure = paper.new_figure(palette(""), 2.0)
        figure.text(0.1, 0.5, given)
        root = ElementTree.fromstring(paper.content(figure, "svg"))
        drawn = "".join(root.itertext())
        assert harm(drawn) == ""
        assert core(text).replace("\\$", "$")[:4] in core(drawn)
        assert paper.content(figure, "png").startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("=1+1", "'=1+1"),
        ("A;=1+1;-B", "A;'=1+1;'-B"),
        ("A; -3", "A; -3"),
        ("-3", "-3"),
        ("+4.5e3", "+4.5e3"),
    ],
)
def test_no_cell_is_a_formula_and_numbers_stay(text: str, shown: str) -> None:
    assert cell(text) == shown


def test_json_steers_no_terminal_and_means_the_same() -> None:
    import json

    text = "\x7f\x9b31m \u202e \u2028 °µ \ue000 \U000e0041 衛"
    content = json_bytes({text: [text]}, indented=True)
    assert harm(content.decode()) == ""
    assert json.loads(content) == {text: [text]}
    assert "°µ" in json_safe("°µ")


def test_a_lone_surrogate_does_not_keep_json_from_being_written() -> None:
    import json

    content = json_bytes({"a\udcff": ["b\ud800", float("nan")]}, indented=False)
    assert json.loads(content) == {"a?": ["b?", None]}


def test_two_lines_hold_any_name_and_give_it_back(tmp_path) -> None:
    """What is exported as two-line text is read again, one object for each name."""
    where = scene.write(tmp_path, NAMES)
    first = read([str(where.elements)]).catalogue
    path = tmp_path / "again.tle"
    path.write_text(tle_text(first), encoding="utf-8")
    again = read([str(path)])
    assert again.rejected == ()
    assert again.catalogue.catalog_number.tolist() == first.catalog_number.tolist()
    for old, new in zip(first.name, again.catalogue.name, strict=True):
        assert harm(new, allowed="") == ""
        assert core(new)[:20] == core(old)[:20]


@pytest.mark.parametrize("name", ["# 1", "0 A", "1 B", "2 00005", "1 80001U", "0 0 C"])
def test_a_name_is_not_taken_for_a_line(name: str) -> None:
    lines = kit.element_text().splitlines()
    (named,) = read_text("\n".join([f"0 {name}", *lines[1:3]])).catalogue
    text = tle_text(as_catalogue([named]))
    (again,) = read_text(text).catalogue
    assert again.name == named.name == name
