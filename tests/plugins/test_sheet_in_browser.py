"""The page in a real browser: nothing asked of the network, nothing cut off."""

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from passes.cli import cli
from passes.testing import FakeServices, sightings

CHROMIUM = Path("/usr/bin/chromium")
ARGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update"),
    "--disable-sync",
]
#: For a browser on a machine with much else to do, ms.
PATIENCE_MS = 120_000
EVIL = "<img src=x onerror=alert(1)>"

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not here")
if not CHROMIUM.exists():
    pytest.skip(f"{CHROMIUM} is not installed", allow_module_level=True)


@pytest.fixture(scope="module")
def browser():
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=str(CHROMIUM), args=ARGS, timeout=PATIENCE_MS
        )
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    for theme in ("light", "dark", "red"):
        path = folder / f"{theme}.html"
        typed = ["sheet", "--demo", "--theme", theme, "--output", str(path)]
        result = CliRunner().invoke(cli, typed, prog_name="passes")
        assert result.exit_code == 0, result.output
    passage = replace(sightings.passage(), name=EVIL * 4)
    result = CliRunner().invoke(
        cli, ["sheet"], obj=FakeServices(canned_passes=(passage,)), prog_name="passes"
    )
    assert result.exit_code == 0, result.output
    (folder / "evil.html").write_text(result.stdout, encoding="utf-8")
    return folder


def opened(browser, path, width):
    """A page that was opened, and everything it did beside being shown."""
    page = browser.new_page(viewport={"width": width, "height": 844})
    page.set_default_timeout(PATIENCE_MS)
    done = []
    page.on("console", lambda message: done.append(f"console: {message.text}"))
    page.on("pageerror", lambda error: done.append(f"error: {error}"))
    page.on("dialog", lambda dialog: (done.append("dialog"), dialog.dismiss()))
    page.on("request", lambda request: done.append(f"request: {request.url}"))
    page.goto(path.as_uri())
    done.remove(f"request: {path.as_uri()}")
    return page, done


@pytest.mark.parametrize("name", ["light", "dark", "red", "evil"])
@pytest.mark.parametrize("width", [390, 1200])
def test_it_shows_itself_and_does_nothing_else(browser, pages, name, width):
    page, done = opened(browser, pages / f"{name}.html", width)
    try:
        assert done == []
        wide = "document.documentElement.scrollWidth"
        assert page.evaluate(wide) <= width
        size = page.evaluate(
            "[...document.querySelectorAll('svg')]"
            ".map(s => s.getBoundingClientRect().width)"
        )
        assert all(100 < one <= width for one in size)
    finally:
        page.close()


def test_names_are_shown_as_text(browser, pages):
    page, done = opened(browser, pages / "evil.html", 390)
    try:
        assert done == []
        assert page.locator("img").count() == 0
        assert EVIL in page.locator("h3").first.inner_text()
    finally:
        page.close()


def test_the_red_page_is_red_on_black(browser, pages):
    page, _ = opened(browser, pages / "red.html", 390)
    try:
        look = "getComputedStyle(document.{}).{}"
        paper = page.evaluate(look.format("documentElement", "backgroundColor"))
        assert paper == "rgb(0, 0, 0)"
        every = page.evaluate(
            "[...document.querySelectorAll('main *, header *')]"
            ".filter(e => !e.closest('svg')).map(e => getComputedStyle(e).color)"
        )
        for colour in set(every):
            red, green, blue = (int(v) for v in colour[4:-1].split(","))
            assert red > 2.5 * max(green, blue)
    finally:
        page.close()


def test_on_paper_it_is_black_on_white(browser, pages):
    page, _ = opened(browser, pages / "red.html", 800)
    try:
        page.emulate_media(media="print")
        body = page.evaluate("getComputedStyle(document.body).color")
        assert body == "rgb(0, 0, 0)"
        assert page.pdf(format="A4").startswith(b"%PDF")
    finally:
        page.close()


LETTERS = """
[...document.querySelectorAll('svg')].flatMap(svg => {
  const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
  return [...svg.querySelectorAll('text')].map(
    text => scale * parseFloat(getComputedStyle(text).fontSize));
})
"""


@pytest.mark.parametrize("name", ["light", "red"])
def test_letters_in_pictures_can_be_read_on_a_phone(browser, pages, name):
    """Nothing under 9.5 pixels of a phone 390 wide (common practice, no source)."""
    page, _ = opened(browser, pages / f"{name}.html", 390)
    try:
        sizes = page.evaluate(LETTERS)
        assert len(sizes) > 200
        assert min(sizes) >= 9.5
        alone = page.evaluate(
            "[...document.querySelectorAll('section > figure svg')]"
            ".map(s => s.getBoundingClientRect().width)"
        )
        assert min(alone) >= 390 - 2 * 13
    finally:
        page.close()


def test_links_lead_to_sections_of_the_page_itself(browser, pages):
    page, done = opened(browser, pages / "light.html", 390)
    try:
        links = page.locator("nav a")
        assert links.count() >= 6
        for i in range(links.count()):
            target = links.nth(i).get_attribute("href")
            assert page.locator(target).count() == 1
            links.nth(i).click()
        assert [one for one in done if "#" not in one] == []
    finally:
        page.close()


def test_no_words_of_a_picture_are_wider_than_it(browser, pages):
    """In whatever letters the browser has: they may be other than matplotlib's."""
    page, _ = opened(browser, pages / "light.html", 390)
    try:
        beyond = page.evaluate(
            "[...document.querySelectorAll('svg')].flatMap(svg => {"
            " const box = svg.getBoundingClientRect();"
            " return [...svg.querySelectorAll('text')].filter(text => {"
            "  const own = text.getBoundingClientRect();"
            "  return own.left < box.left - 1 || own.right > box.right + 1;"
            " }).map(text => text.textContent); })"
        )
        assert beyond == []
    finally:
        page.close()
