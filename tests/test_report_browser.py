"""The report in a real browser: no errors, no requests; views, slider, play, keyboard and curves work."""

import json
import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from condyle.report import write_report
from tests.report_results import computed

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = Path("/usr/bin/chromedriver")
QUIET = (
    *("--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--disable-background-networking"),
    *(
        "--disable-component-update",
        "--disable-default-apps",
        "--disable-sync",
        "--no-first-run",
        "--disable-extensions",
    ),
    *("--disable-domain-reliability", "--disable-features=OptimizationHints,MediaRouter", "--window-size=1100,900"),
)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    if BROWSER is None or not DRIVER.is_file():
        pytest.skip("chromium and chromium-driver are not installed: apt-get install -y chromium chromium-driver")
    return write_report(computed(tmp_path_factory.mktemp("browser"))[1])[0]


@pytest.fixture(scope="module")
def browser(report: Path) -> Iterator[Any]:
    os.environ["SE_OFFLINE"] = "true"
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    for flag in QUIET:
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
    try:
        driver.get(report.as_uri())
        deadline = time.monotonic() + 120
        while not driver.execute_script("return document.getElementById('moving').dataset.ready === 'yes'"):
            assert time.monotonic() < deadline, "the skeleton's script did not come to its end"
            time.sleep(0.05)
        driver.marks_at_first = driver.execute_script("return document.querySelectorAll('.cursor').length")
        yield driver
    finally:
        driver.quit()


def picture(browser: Any) -> str:
    return str(browser.execute_script("return document.getElementById('body-view').toDataURL()"))


def status(browser: Any) -> str:
    return str(browser.execute_script("return document.getElementById('status').textContent"))


def click(browser: Any, name: str) -> None:
    browser.execute_script("document.getElementById(arguments[0]).click()", name)


def test_the_page_loads_without_errors_and_asks_the_network_for_nothing(browser: Any, report: Path) -> None:
    assert browser.get_log("browser") == []
    asked = []
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.append(message["params"]["request"]["url"])
    assert [url for url in asked if not url.startswith(("data:", "chrome:"))] == [report.as_uri()]


def test_buttons_turn_the_skeleton(browser: Any) -> None:
    views = {}
    for name in ("frontal", "sagittal", "transverse"):
        click(browser, f"view-{name}")
        pressed = browser.execute_script("return document.getElementById(arguments[0]).ariaPressed", f"view-{name}")
        assert pressed == "true"
        views[name] = picture(browser)
    assert len(set(views.values())) == 3
    click(browser, "view-frontal")
    assert picture(browser) == views["frontal"]


def test_the_curves_bear_no_mark_until_the_figure_is_moved(browser: Any) -> None:
    # at first it would stand at the start of every panel, where it reads as an edge of the picture
    assert browser.marks_at_first == 0
    click(browser, "bottom")
    assert browser.execute_script("return document.querySelectorAll('.cursor').length") > 1


def test_the_slider_moves_the_figure_and_the_cursor_in_the_curves(browser: Any) -> None:
    def at(frame: int) -> tuple[str, str, float]:
        browser.execute_script(
            "const s = document.getElementById('moment'); s.value = arguments[0]; s.dispatchEvent(new Event('input'))",
            frame,
        )
        x = browser.execute_script("return document.querySelector('#curves0-panel0 .cursor')?.getAttribute('x1')")
        return status(browser), picture(browser), float(x or -1)

    click(browser, "bottom")
    bottom = int(browser.execute_script("return document.getElementById('moment').value"))
    assert ", 50 %" in status(browser) or ", 49 %" in status(browser) or ", 51 %" in status(browser)
    there, drawn, cursor = at(bottom)
    before, other, earlier = at(bottom - 8)
    assert there != before
    assert drawn != other
    assert cursor > earlier > 0


def test_the_skeleton_drawn_is_the_trial_that_was_measured(browser: Any) -> None:
    click(browser, "bottom")
    flexion = int(status(browser).split("knee flexion ")[1].split("°")[0])
    data = json.loads(browser.execute_script("return document.getElementById('skeleton-data').textContent"))
    assert [t["name"] for t in data["trials"]] == ["squat_right", "squat_left"]
    assert 60 <= flexion <= 110, "the squats of the sample bend the knee by some 75 degrees"


def test_play_runs_pause_stops_and_half_speed_is_slower(browser: Any) -> None:
    # the page's own clock, so that a busy machine changes nothing
    play = """
        const done = arguments[arguments.length - 1], slider = document.getElementById('moment');
        slider.value = 0; slider.dispatchEvent(new Event('input'));
        document.getElementById('play').click();
        const started = performance.now();
        setTimeout(() => {
            document.getElementById('play').click();
            done(slider.value / (performance.now() - started) * 1000);
        }, 1200);"""
    full = browser.execute_async_script(play)
    click(browser, "speed")
    half = browser.execute_async_script(play)
    click(browser, "speed")
    assert full > 5
    assert 0 < half < 0.8 * full
    stopped = status(browser)
    time.sleep(0.2)
    assert status(browser) == stopped


def test_keyboard_turns_zooms_and_other_trials_and_repetitions_are_reached(browser: Any) -> None:
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    canvas = browser.find_element(By.ID, "body-view")
    seen = [picture(browser)]
    for key in (Keys.ARROW_LEFT, Keys.ARROW_UP, "+"):
        canvas.send_keys(key)
        seen.append(picture(browser))
    assert len(set(seen)) == 4
    choose = (
        "const s = document.getElementById(arguments[0]); s.value = arguments[1]; s.dispatchEvent(new Event('change'))"
    )
    browser.execute_script(choose, "repetition", "1")
    assert "repetition 2, " in status(browser)
    browser.execute_script(choose, "trial", "1")
    assert "left knee flexion" in status(browser)
    click(browser, "axes")
    with_axes = picture(browser)
    click(browser, "axes")
    assert picture(browser) != with_axes


def test_dragging_turns_the_figure(browser: Any) -> None:
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.by import By

    canvas = browser.find_element(By.ID, "body-view")
    before = picture(browser)
    ActionChains(browser).click_and_hold(canvas).move_by_offset(60, 10).release().perform()
    assert picture(browser) != before


@pytest.fixture
def phone(browser: Any) -> Iterator[Any]:
    """The page on a screen of 375 pixels, which no window can be made as narrow as."""
    screen = {"width": 375, "height": 800, "deviceScaleFactor": 1, "mobile": True}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", screen)
    yield browser
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_the_page_does_not_scroll_sideways_on_a_narrow_screen(phone: Any) -> None:
    wide = phone.execute_script("return [document.documentElement.scrollWidth, window.innerWidth]")
    assert wide == [375, 375]


def test_on_a_narrow_screen_figures_stay_readable_and_scroll_in_their_own_box(phone: Any) -> None:
    boxes = phone.execute_script(
        "return [...document.querySelectorAll('.drawn')].map(box => [box.clientWidth, box.scrollWidth])"
    )
    assert len(boxes) >= 10
    assert all(shown <= 375 < drawn for shown, drawn in boxes)
    words = phone.execute_script(
        "document.querySelectorAll('details').forEach(d => d.open = true);"
        "return [...document.querySelectorAll('th.words')].map(head => [head.textContent, head.clientWidth])"
    )
    assert {name for name, _ in words} >= {"Advice", "Published", "In words"}
    assert all(width >= 250 for _, width in words)


def test_no_error_came_up_in_all_this(browser: Any) -> None:
    assert browser.get_log("browser") == []
