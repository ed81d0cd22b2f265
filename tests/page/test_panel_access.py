"""For everyone: keyboard only, a phone, a screen reader's rules, less motion.

The rules are axe's, which follow the Web Content Accessibility Guidelines 2.2; a touch target's 44 px are the
guidelines' own (success criterion 2.5.5, Target Size, Enhanced).
"""

from __future__ import annotations

import itertools

import pytest
from playwright.sync_api import Page, expect

from browsing import DESKTOP, Accessible, Opener, PageOf
from panel_page import PHONE, opened_fold, says, sight
from stage_pictures import plain, rested

TARGET = 44
SMALL = """(least) => {
    const shown = [...document.querySelectorAll("button, select, summary, a[href], textarea, input")];
    const seen = shown.filter((each) => each.checkVisibility() && !each.matches(".skip"));
    return seen.map((each) => {
        const target = /radio|checkbox/.test(each.type) ? each.closest("label") : each;
        const { width, height } = target.getBoundingClientRect();
        return [target.id || target.textContent, width, height];
    }).filter(([, width, height]) => Math.min(width, height) < least);
}"""
FOCUSED = """() => {
    const { activeElement: it } = document;
    return it === document.body ? "" : it.id || it.className || it.tagName;
}"""
RINGED = """() => {
    const it = document.activeElement;
    const ring = (each, pseudo) => {
        const { outlineStyle, outlineWidth, borderTopWidth, content } = getComputedStyle(each, pseudo);
        const border = pseudo && content !== "none" && parseFloat(borderTopWidth) >= 2;
        return border || (outlineStyle !== "none" && parseFloat(outlineWidth) >= 2);
    };
    return ring(it) || ring(it, "::after") || (it.closest(".pick") !== null && ring(it.closest(".pick")));
}"""


@pytest.fixture
def page(page_of: PageOf, opened: Opener) -> Page:
    return opened(plain(page_of("window-seat")))


def phone(opened: Opener, page_of: PageOf) -> Page:
    return opened(plain(page_of("window-seat")), PHONE, has_touch=True, is_mobile=True)


@pytest.mark.parametrize("size", [DESKTOP, PHONE])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(
    page_of: PageOf, opened: Opener, accessible: Accessible, size: tuple[int, int], scheme: str
) -> None:
    page = opened(plain(page_of("window-seat")), size, color_scheme=scheme)
    assert accessible(page) == []
    page.select_option("#beside", label="oak")
    page.select_option("#cut-at", index=2)
    for fold in ("joints", "pieces"):
        opened_fold(page, fold)
    page.locator("#facts-fold summary").click()
    page.get_by_role("button", name="Save the answer").click()
    page.locator("#joints-0").click()
    rested(page)
    assert accessible(page) == []


def test_axe_finds_nothing_without_scripts(page_of: PageOf, opened: Opener, accessible: Accessible) -> None:
    """axe is a script itself: what it sees is the page as it stands before its own script has run."""
    page = opened(page_of("window-seat"))
    page.evaluate(
        "() => { document.documentElement.classList.remove('scripted', 'alive');"
        " for (const id of ['picture', 'panel', 'tools', 'keys']) document.getElementById(id).hidden = true;"
        " document.getElementById('poster').hidden = false; document.getElementById('facts-fold').open = true }"
    )
    assert accessible(page) == []


def test_from_loading_to_a_saved_answer_with_keys_only(page_of: PageOf, opened: Opener) -> None:
    page = opened(plain(page_of("window-seat")), accept_downloads=True)
    stops: list[str] = []

    def to(stop: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            stops.append(page.evaluate(FOCUSED))
            assert page.evaluate(RINGED), f"nothing shows that {stops[-1]} has the focus"
            if stops[-1] == stop:
                return
        raise AssertionError(f"{stop} was not reached: {stops}")

    to("skip")
    to("dark")
    to("picture")
    expect(page.locator("#keys")).to_be_visible()
    before = sight(page)
    page.keyboard.press("ArrowLeft")
    assert sight(page) != before
    page.keyboard.press("Home")
    assert sight(page) == before
    to("view-0")
    expect(page.locator("#keys")).to_be_hidden()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#view-1")).to_have_attribute("aria-pressed", "true")
    to("choice-0-0")
    page.keyboard.press("ArrowDown")
    says(page, "Shown: ogee")
    to("choice-1-0")
    to("beside")
    to("cut-at")
    page.keyboard.press("ArrowDown")
    to("cut-along")
    place = page.locator("#cut-along").get_attribute("aria-valuetext")
    page.keyboard.press("ArrowRight")
    assert page.locator("#cut-along").get_attribute("aria-valuetext") != place
    to("cut-close")
    page.keyboard.press("Enter")
    to("apart")
    page.keyboard.press("ArrowRight")
    to("names")
    page.keyboard.press("Space")
    expect(page.locator("#names")).to_be_checked()
    to("dimensions-0")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#dimensions-1")).to_be_checked()
    to("around")
    to("SUMMARY")
    page.keyboard.press("Enter")
    page.locator("#joints-0").wait_for()
    to("joints-0")
    page.keyboard.press("Enter")
    expect(page.locator("#joints-0")).to_have_attribute("aria-pressed", "true")
    to("answer-0")
    page.keyboard.press("Space")
    to("client")
    page.keyboard.type("Ann Example")
    to("remarks")
    to("save")
    with page.expect_download() as download:
        page.keyboard.press("Enter")
    assert download.value.suggested_filename == "window-seat-answer.json"
    to("copy")


@pytest.mark.parametrize(
    ("key", "back"),
    [("ArrowLeft", "ArrowRight"), ("ArrowUp", "ArrowDown"), ("+", "-"), ("Shift+ArrowLeft", "Shift+ArrowRight")],
)
def test_keys_on_the_picture(page: Page, key: str, back: str) -> None:
    picture = page.locator("#picture")
    picture.focus()
    whole = sight(page)
    picture.press(key)
    there = sight(page)
    changed = {name for name in whole if whole[name] != there[name]}
    told = {"ArrowLeft": {"azimuth"}, "ArrowUp": {"elevation"}, "+": {"half"}, "Shift+ArrowLeft": {"target"}}
    assert changed == told[key]
    assert page.locator("#views [aria-pressed=true]").count() == 0
    picture.press(back)
    for name, value in sight(page).items():
        assert value == pytest.approx(whole[name], abs=1e-6), name
    picture.press(key)
    picture.press("Home")
    assert sight(page) == whole
    assert page.evaluate("scrollY") == 0


def test_the_picture_says_what_it_is_and_how_to_move_it(page: Page) -> None:
    picture = page.locator("#picture")
    expect(picture).to_have_role("application")
    expect(picture).to_have_accessible_name("Picture of Window seat between stone piers, reading room")
    assert "Arrow keys turn the picture" in (picture.evaluate("(it) => it.ariaDescribedByElements[0].textContent"))
    assert page.locator("#status").get_attribute("role") == "status"


def test_headings_are_in_order(page: Page) -> None:
    page.locator("#facts-fold summary").click()
    levels = [int(tag[1]) for tag in page.locator("h1, h2, h3, h4").evaluate_all("all => all.map((h) => h.tagName)")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_on_a_phone_everything_is_large_enough_to_touch(page_of: PageOf, opened: Opener) -> None:
    page = phone(opened, page_of)
    page.select_option("#cut-at", index=2)
    for fold in ("joints", "pieces"):
        opened_fold(page, fold)
    page.locator("#facts-fold summary").click()
    assert page.evaluate(SMALL, TARGET) == []
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]


def test_on_a_phone_the_picture_stays_in_view_while_a_control_is_used(page_of: PageOf, opened: Opener) -> None:
    page = phone(opened, page_of)
    for control in ("#choices label", "#cut-at", "#apart", "#around", "#joints summary"):
        page.locator(control).first.scroll_into_view_if_needed()
        page.locator(control).first.focus() if control != "#choices label" else page.locator(control).first.tap()
        picture, used = page.locator("#picture").bounding_box(), page.locator(control).first.bounding_box()
        assert picture is not None
        assert used is not None
        assert picture["y"] >= 0
        assert picture["y"] + picture["height"] <= PHONE[1]
        assert picture["height"] > 0.4 * PHONE[1]
        assert used["y"] >= picture["y"] + picture["height"] - 1, f"{control} lies under the picture"


def test_a_finger_picks_and_taps(page_of: PageOf, opened: Opener) -> None:
    page = phone(opened, page_of)
    page.locator("#choices label").filter(has=page.get_by_text("oak", exact=True)).tap()
    says(page, "Shown: oak")
    piece = page.evaluate("window.__preview.document.variants[window.__preview.document.variants.findIndex("
                          "(each) => each.picks.join() === '0,0,1')].pieces[0]")  # fmt: skip
    page.evaluate("scrollTo(0, 0)")
    rested(page)
    at = page.evaluate("(point) => window.__preview.stage.project(point)", piece["label"])
    page.locator("#picture canvas").tap(position=at)
    says(page, f"{piece['name']}, {piece['short']['in']}")


def test_colors_forced_by_the_reader_still_tell_what_is_picked(page_of: PageOf, opened: Opener) -> None:
    page = opened(plain(page_of("window-seat")), forced_colors="active")
    outline = "(it) => getComputedStyle(it).outlineStyle"
    for picked, other in (("#view-0", "#view-1"), (".pick:has(:checked)", ".pick:not(:has(:checked))")):
        assert page.locator(picked).first.evaluate(outline) == "solid"
        assert page.locator(other).first.evaluate(outline) == "none"


def test_less_motion_where_it_is_asked_for(page_of: PageOf, opened: Opener) -> None:
    page = opened(plain(page_of("window-seat")), reduced_motion="reduce")
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    assert page.locator("button").first.evaluate("(it) => getComputedStyle(it).transitionDuration") == "0s"
