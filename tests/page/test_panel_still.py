"""Where no script runs, and where the browser cannot draw in 3D: the still picture, a sentence, the tables."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from browsing import DESKTOP, READY, READY_SECONDS, WITHIN, Opener, PageOf, Watch
from panel_page import PHONE, document

NO_WEBGL = """
const whole = HTMLCanvasElement.prototype.getContext;
HTMLCanvasElement.prototype.getContext = function (kind, ...rest) {
  return kind.startsWith("webgl") ? null : whole.call(this, kind, ...rest);
};
"""
CONTROLS = "button, input, select, textarea, a[href]:not(.skip), [tabindex='0']:not(.wide)"


@pytest.mark.parametrize("size", [DESKTOP, PHONE])
def test_without_scripts(page_of: PageOf, opened: Opener, size: tuple[int, int]) -> None:
    page = opened(page_of("window-seat"), size, ready=False, java_script_enabled=False)
    expect(page.get_by_role("heading", level=1)).to_have_text("Window seat between stone piers, reading room")
    poster = page.locator("#poster > *")
    expect(poster).to_be_visible()
    box = poster.bounding_box()
    assert box is not None
    assert box["width"] > 0.9 * min(size[0], 990)
    colors = Image.open(io.BytesIO(poster.screenshot())).convert("RGB").getcolors(1 << 24)
    assert colors is not None
    assert max(count for count, _ in colors) < 0.97 * sum(count for count, _ in colors), "nothing is drawn in it"
    how = page.locator("#how")
    expect(how).to_contain_text("open it in a web browser")
    assert how.inner_text().count("still picture") == 1
    assert page.locator("#tables table:visible").count() >= 2
    assert page.locator(f":is({CONTROLS}):visible").count() == 0, "a dead control"
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


@pytest.fixture
def flat(browser: Browser, page_of: PageOf) -> Iterator[Page]:
    """The page in a browser without WebGL."""
    window = browser.new_context(offline=True, accept_downloads=True)
    window.add_init_script(NO_WEBGL)
    watch = Watch((*WITHIN, page_of("window-seat").as_uri()), ())
    watch.over(window)
    page = window.new_page()
    page.goto(page_of("window-seat").as_uri())
    page.evaluate(READY, READY_SECONDS)
    yield page
    window.close()
    assert not watch.faults


def test_without_webgl_it_says_why_and_stays_as_it_is(flat: Page) -> None:
    expect(flat.locator("#how")).to_contain_text("cannot draw the model in 3D")
    expect(flat.locator("#how")).to_contain_text("open this file in another browser")
    expect(flat.locator("#poster")).to_be_visible()
    expect(flat.locator("#picture")).to_be_hidden()
    assert flat.locator("#tables table:visible").count() >= 2
    for dead in ("#views", "#cutting", "#picturing", "#finishes", "#beside", "#print", "#joints", "#pieces"):
        assert flat.locator(dead).count() == 0, dead


def test_without_webgl_a_choice_still_says_what_it_changes_and_can_be_answered(flat: Page) -> None:
    flat.locator("#choices label").filter(has=flat.get_by_text("ogee", exact=True)).click()
    variant = next(each for each in document(flat)["variants"] if each["picks"] == [1, 0, 0])
    assert flat.locator(".changes li").all_inner_texts() == variant["changes"]
    flat.get_by_label("Yes, make it like this").check()
    flat.get_by_label("Your name").fill("Ann Example")
    with flat.expect_download() as download:
        flat.get_by_role("button", name="Save the answer").click()
    assert variant["digest"] in download.value.path().read_text("utf-8")


def test_a_file_that_was_cut_short_keeps_the_still_picture(page_of: PageOf, opened: Opener, tmp_path: object) -> None:
    whole = page_of("bay")
    text = whole.read_text("utf-8")
    start = text.index('id="model">') + len('id="model">')
    broken = whole.with_name("bay-cut.html")
    broken.write_text(text[: start + 4000] + text[text.index("</script>", start) :], "utf-8", newline="\n")
    page = opened(broken, ready=False, expect=["."])
    expect(page.locator("#how")).to_contain_text("could not be read")
    expect(page.locator("#poster")).to_be_visible()
    assert page.locator("#tables table:visible").count() >= 2
    expect(page.locator("#panel")).to_be_hidden()
