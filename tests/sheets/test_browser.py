"""The page in a real browser: Chromium without a window, the file opened from disk, the network off."""

from __future__ import annotations

import base64
import io
import shutil
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest

from cutlist.sheets.page import plan_html

webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed: the page is not opened")

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
pytestmark = pytest.mark.skipif(not (CHROMIUM and DRIVER), reason="chromium or chromedriver is not installed")

WIDTHS = (360, 768, 1280)
SAME_PICTURE = """
const canvas = document.getElementById("view3d"), brush = canvas.getContext("2d");
const dots = brush.getImageData(0, 0, canvas.width, canvas.height).data;
let sum = 0, painted = 0;
for (let i = 0; i < dots.length; i += 4) {
  sum = (sum * 31 + dots[i] * 7 + dots[i + 1] * 3 + dots[i + 2]) % 1000000007;
  if (dots[i] !== dots[0] || dots[i + 1] !== dots[1] || dots[i + 2] !== dots[2]) painted += 1;
}
return [sum, painted / (dots.length / 4)];
"""


@pytest.fixture(scope="module")
def browser(tmp_path_factory) -> Iterator:
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(argument)
    options.add_argument(f"--user-data-dir={tmp_path_factory.mktemp('chromium')}")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    driver.execute_cdp_cmd("Network.enable", {})
    offline = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
    driver.execute_cdp_cmd("Network.emulateNetworkConditions", offline)
    yield driver
    driver.quit()


@pytest.fixture(scope="module")
def pages(tmp_path_factory, request) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name in ("plan", "inch_plan", "failing_plan", "large_plan", "hostile_plan"):
        found[name] = folder / f"{name}.html"
        found[name].write_text(plan_html(request.getfixturevalue(name)), encoding="utf-8")
    return found


def shown(browser, page: Path, width: int = 1280, dark: bool = False, media: str = ""):
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    feature = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": media, "features": [feature]})
    browser.get(page.as_uri())
    return browser


@pytest.mark.parametrize("name", ["plan", "inch_plan", "failing_plan", "large_plan", "hostile_plan"])
def test_opens_from_disk_without_network_or_complaint(browser, pages, name):
    shown(browser, pages[name])
    assert browser.get_log("browser") == []
    assert browser.execute_script("return performance.getEntriesByType('resource').length") == 0
    assert browser.execute_script("return document.querySelectorAll('h2').length") == 13


def test_usable_soon_after_opening(browser, pages):
    """60 leads; from the start of loading to the picture drawn. The limit is 2 s on a quiet machine."""
    shown(browser, pages["large_plan"])
    assert int(browser.execute_script("return document.getElementById('view3d').dataset.drawn")) > 92
    took_ms = browser.execute_script("return performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd")
    assert took_ms < 2000


def test_the_3d_view_draws_turns_and_tells(browser, pages):
    shown(browser, pages["plan"])
    first, painted = browser.execute_script(SAME_PICTURE)
    assert painted > 0.02
    canvas = browser.find_element("id", "view3d")
    canvas.send_keys("\ue014")  # right arrow
    settle(browser)
    assert browser.execute_script(SAME_PICTURE)[0] != first
    canvas.send_keys("0")
    settle(browser)
    assert browser.execute_script(SAME_PICTURE)[0] == first
    browser.find_element("css selector", "#pick option[value='3']").click()
    settle(browser)
    words = browser.find_element("id", "picked").text
    # lengths worked by hand in test_tables
    assert words.startswith("3 S1 positive: shortest 1359 mm, target 1526 mm, cut 1465 mm, bends 2")
    assert browser.execute_script(SAME_PICTURE)[0] != first


def test_pointing_at_a_cable_reads_it(browser, pages):
    """Each cable can be found by the pointer at some point that the picture shows it at."""
    shown(browser, pages["plan"])
    found = browser.execute_script(
        """
        const canvas = document.getElementById("view3d"), box = canvas.getBoundingClientRect(), told = new Set();
        for (let x = 0; x < box.width; x += 6) for (let y = 0; y < box.height; y += 6) {
          canvas.dispatchEvent(new PointerEvent("pointermove", {clientX: box.left + x, clientY: box.top + y}));
          told.add(document.getElementById("pick").value);
        }
        return [...told].sort();
        """
    )
    assert found == ["", "1", "2", "3", "4", "5", "6", "7", "8"]


def settle(browser) -> None:
    """Until the next frame is on the canvas."""
    browser.execute_async_script("const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(done));")


def test_ticks_survive_a_reload_and_belong_to_the_plan(browser, pages):
    shown(browser, pages["plan"])
    boxes = browser.find_elements("css selector", "input.tick")
    assert not any(box.is_selected() for box in boxes)
    boxes[2].click()
    browser.refresh()
    boxes = browser.find_elements("css selector", "input.tick")
    assert [box.is_selected() for box in boxes[:4]] == [False, False, True, False]
    shown(browser, pages["inch_plan"])
    assert not any(box.is_selected() for box in browser.find_elements("css selector", "input.tick"))
    shown(browser, pages["plan"])
    browser.find_elements("css selector", "input.tick")[2].click()


@pytest.mark.parametrize("name", ["plan", "inch_plan", "large_plan", "hostile_plan"])
@pytest.mark.parametrize("width", WIDTHS)
def test_no_sideways_scroll(browser, pages, name, width):
    shown(browser, pages[name], width)
    assert browser.execute_script("return document.documentElement.scrollWidth") <= width
    # wide things scroll in boxes of their own, reachable by keyboard
    assert browser.execute_script(
        "return [...document.querySelectorAll('.wide')].every(b => b.tabIndex === 0 && b.clientWidth <= innerWidth)"
    )


def test_on_a_phone_a_cut_is_read_without_scrolling(browser, pages):
    shown(browser, pages["plan"], 360)
    cut_off = browser.execute_script(
        "return [...document.querySelectorAll('.stacked td, .stacked th')].filter(c => c.offsetWidth"
        " && c.getBoundingClientRect().right > 360).length"
    )
    assert cut_off == 0


def test_on_a_phone_every_table_is_read_without_scrolling(browser, pages):
    """And the drawings, which are wider, say so."""
    shown(browser, pages["plan"], 360)
    browser.execute_script("for (const d of document.querySelectorAll('details')) d.open = true")
    wider = browser.execute_script(
        "return [...document.querySelectorAll('.wide')].filter(b => b.scrollWidth > b.clientWidth + 1)"
        ".map(b => b.firstElementChild.tagName + ' ' + b.ariaLabel)"
    )
    assert [name for name in wider if not name.startswith("svg")] == []
    told = "return [...document.querySelectorAll('figure')].map(f => f.querySelector('.sideways')?.offsetWidth > 0)"
    assert browser.execute_script(told).count(True) == 3
    shown(browser, pages["plan"], 1280)
    assert browser.execute_script(told).count(True) == 0


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("width", [360, 1280])
def test_no_barriers_found(browser, pages, dark, width):
    """axe-core: names, roles, headings, table heads, contrast in light and dark."""
    package = pytest.importorskip("axe_core_python", reason="axe-core-python is not installed: barriers not looked for")
    axe = (Path(package.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    shown(browser, pages["failing_plan"], width, dark)
    browser.execute_script(axe)
    result = browser.execute_async_script("const done = arguments[0]; axe.run().then(done);")
    assert [(v["id"], [n["html"][:100] for n in v["nodes"]][:3]) for v in result["violations"]] == []
    assert len(result["passes"]) > 20


def test_light_or_dark_is_the_readers_choice(browser, pages):
    shown(browser, pages["plan"])
    paper = "return getComputedStyle(document.documentElement).backgroundColor"
    light = browser.execute_script(paper)
    picture = browser.execute_script(SAME_PICTURE)[0]
    browser.find_element("id", "theme").click()
    settle(browser)
    assert browser.execute_script(paper) != light
    assert browser.execute_script(SAME_PICTURE)[0] != picture
    browser.refresh()
    assert browser.execute_script(paper) != light
    for _ in range(2):
        browser.find_element("id", "theme").click()
    assert browser.execute_script(paper) == light


def test_prints_with_every_figure_and_without_the_screen_parts(browser, pages):
    shown(browser, pages["plan"])
    printed = browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    reader = pypdf.PdfReader(io.BytesIO(base64.b64decode(printed["data"])))
    text = " ".join(page.extract_text() for page in reader.pages)
    for words in ("Every run, stud centre to stud centre", "1465 mm", "4 ft 9 3/4 in", "Order list", "110.65"):
        assert words in text
    assert "Drag or arrow keys turn" not in text
    assert "Light or dark" not in text


@pytest.mark.parametrize("name", ["plan", "large_plan", "hostile_plan"])
def test_print_cuts_nothing_off(browser, pages, name):
    """A4 upright, 12 mm margins: 186 mm, 703 CSS pixels. Nothing may stick out of the page to the right."""
    shown(browser, pages[name], 703, media="print")
    assert browser.execute_script("return document.documentElement.scrollWidth") <= 703
