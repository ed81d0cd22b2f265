"""Each control of the page does what it says, to the picture and in words."""

from __future__ import annotations

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from browsing import Opener, PageOf
from panel_page import document, opened_fold, pick, press, says, sight
from stage_pictures import differing, picture, pixels, plain, rested


@pytest.fixture
def page(page_of: PageOf, opened: Opener) -> Page:
    return opened(plain(page_of("window-seat")))


def pressed(page: Page, within: str) -> list[str]:
    return page.locator(f"{within} [aria-pressed=true]").all_inner_texts()


def test_the_picture_takes_the_poster_s_place(page: Page) -> None:
    expect(page.locator("#poster")).to_be_hidden()
    expect(page.locator("#picture canvas")).to_be_visible()
    expect(page.locator("#facts-fold")).not_to_have_attribute("open", "")
    assert page.locator("#facts-fold table").count() > 0


def test_every_ready_view_is_reached(page: Page) -> None:
    whole = sight(page)
    views = document(page)["variants"][0]["views"]
    assert {view["kind"] for view in views} == {"whole", "corner", "plan", "end"}
    seen = []
    for number, view in enumerate(views):
        button = page.locator(f"#view-{number}")
        if button.count():
            press(button)
            assert pressed(page, "#views") == [view["name"]]
        else:
            page.select_option("#view-corner", str(number))
            assert pressed(page, "#views") == []
        says(page, f"View: {view['name']}")
        seen.append(str(sight(page)))
        expect(page.locator("#cut-along")).to_have_count(1 if view["cut"] else 0)
    assert len(set(seen)) == len(views), "two views look the same"
    press(page.get_by_role("button", name="Whole"))
    assert sight(page) == whole


def test_a_view_is_no_longer_marked_when_the_picture_was_turned_by_hand(page: Page) -> None:
    assert pressed(page, "#views") == ["Whole"]
    page.mouse.move(300, 300)
    page.mouse.down()
    page.mouse.move(400, 320, steps=4)
    page.mouse.up()
    rested(page)
    assert pressed(page, "#views") == []


def test_a_choice_changes_the_picture_and_says_what_it_changes(page: Page) -> None:
    first = picture(page)
    expect(page.locator(".changes")).to_have_text("This is the molding as drawn.")
    pick(page, "ogee")
    shown = document(page)
    variant = next(each for each in shown["variants"] if each["picks"] == [1, 0, 0])
    assert variant["changes"]
    assert page.locator(".changes li").all_inner_texts() == variant["changes"]
    says(page, "Shown: ogee")
    assert differing(first, picture(page)) > 0.01
    expect(page.locator("#checked dd").first).to_have_text(variant["code"])
    pick(page, "cove and bead")
    rested(page)
    assert np.array_equal(picture(page), first)


def test_two_stand_side_by_side_under_their_names(page: Page) -> None:
    page.select_option("#beside", label="mitered, oak")
    rested(page)
    assert page.locator("#halves p").all_text_contents() == ["turned, white", "mitered, oak"]
    both = picture(page)
    high, wide = both.shape[:2]
    beside = wide > 1.3 * high  # else one above the other, where runs, which are long and low, stay larger
    assert page.locator("#picture").get_attribute("data-split") == ("columns" if beside else "rows")
    if not beside:
        both = np.swapaxes(both, 0, 1)
    middle = both.shape[1] // 2
    assert differing(both[:, : middle - 4], both[:, -(middle - 4) :]) > 0.01
    pick(page, "mitered")
    assert page.locator("#halves p").all_text_contents() == ["white", "oak"]
    page.select_option("#beside", label="nothing")
    expect(page.locator("#halves")).to_be_hidden()
    assert page.locator("#picture").get_attribute("data-split") is None


def test_a_finish_is_shown_and_is_only_a_wish(page: Page) -> None:
    first = picture(page)
    note = page.locator("#finishes .note")
    expect(note).to_be_hidden()
    page.select_option("#finish-0", "oak")
    assert differing(first, picture(page)) > 0.01
    expect(note).to_contain_text("a wish")
    expect(page.locator("#answering dl")).to_contain_text("base in oak")
    page.select_option("#finish-0", "")
    expect(note).to_be_hidden()
    rested(page)
    assert np.array_equal(picture(page), first)


def test_a_run_is_cut_open_moved_along_turned_and_closed(page: Page) -> None:
    first, variant = picture(page), document(page)["variants"][0]
    joint = variant["joints"][1]
    path = variant["paths"][joint["path"]]
    page.select_option("#cut-at", label=joint["name"])
    says(page, f"Cut open at {joint['name']}")
    slider = page.locator("#cut-along")
    assert abs(float(slider.input_value()) * path["step"] - joint["station"]) <= path["step"] / 2
    cut = sight(page)
    assert differing(first, picture(page)) > 0.1
    slider.press("ArrowRight")
    place = path["places"]["in"][int(slider.input_value())]
    assert slider.get_attribute("aria-valuetext") == place
    expect(page.locator("#cutting output")).to_have_text(place)
    says(page, f"Cut at {place} along {path['run']}")
    moved = sight(page)
    assert moved != cut
    slider.press("End")
    assert slider.get_attribute("aria-valuetext") == path["places"]["in"][-1]
    press(page.get_by_role("button", name="From the other side"))
    assert sight(page) != moved
    press(page.get_by_role("button", name="Close the cut"))
    expect(slider).to_have_count(0)
    expect(page.locator("#cut-at")).to_be_focused()
    assert page.locator("#cut-at").input_value() == ""
    press(page.get_by_role("button", name="Whole"))
    assert np.array_equal(picture(page), first)


def test_pieces_move_apart_and_back(page: Page) -> None:
    first = picture(page)
    slider = page.locator("#apart")
    slider.press("End")
    rested(page)
    assert slider.get_attribute("aria-valuetext") == "100 %"
    assert differing(first, picture(page)) > 0.01
    slider.press("Home")
    assert slider.get_attribute("aria-valuetext") == "together"
    press(page.get_by_role("button", name="Whole"))
    assert np.array_equal(picture(page), first)


def test_names_and_dimensions_on_demand_in_both_units(page: Page) -> None:
    labels = page.locator(".stage-label:visible")
    assert labels.count() == 0
    page.get_by_label("Names of the pieces").check()
    rested(page)
    assert "6 straight" in labels.all_inner_texts()
    sizes = {piece["name"]: piece["short"] for piece in document(page)["variants"][0]["pieces"]}
    size = next(value for name, value in sizes.items() if name.endswith("6 straight"))
    for words, unit in (("Inches", "in"), ("Millimeters", "mm")):
        page.get_by_label(words).check()
        rested(page)
        assert any(size[unit] in text for text in labels.all_inner_texts())
    assert opened_fold(page, "pieces").get_by_text(size["mm"]).count() > 0  # the list follows
    page.get_by_label("None").check()
    page.get_by_label("Names of the pieces").uncheck()
    rested(page)
    assert labels.count() == 0


def test_what_stands_around_can_be_left_out(page: Page) -> None:
    first = picture(page)
    page.get_by_label("What stands around the molding").uncheck()
    rested(page)
    assert differing(first, picture(page)) > 0.3
    page.get_by_label("What stands around the molding").check()
    rested(page)
    assert np.array_equal(picture(page), first)


def test_light_and_dark(page: Page) -> None:
    paper = "getComputedStyle(document.body).backgroundColor"
    light, first = page.evaluate(paper), picture(page)
    dark = page.get_by_role("button", name="Dark")
    expect(dark).to_have_attribute("aria-pressed", "false")
    press(dark)
    expect(dark).to_have_attribute("aria-pressed", "true")
    assert page.evaluate(paper) != light
    darker = first.astype(float).mean(axis=2) - picture(page).astype(float).mean(axis=2)
    assert darker.max() > 50, "what lies behind is not darker"


def test_the_surroundings_are_dark_at_first_where_the_reader_has_it_so(page_of: PageOf, opened: Opener) -> None:
    page = opened(plain(page_of("window-seat")), color_scheme="dark")
    expect(page.get_by_role("button", name="Dark")).to_have_attribute("aria-pressed", "true")
    assert page.locator("html").get_attribute("data-surround") == "dark"


def test_joints_are_listed_with_their_figures_and_flown_to(page: Page) -> None:
    variant = document(page)["variants"][0]
    fold = opened_fold(page, "joints")
    entries = fold.locator("li")
    assert entries.count() == len(variant["joints"])
    before = sight(page)
    for number in (0, len(variant["joints"]) - 1):
        joint, entry = variant["joints"][number], entries.nth(number)
        assert entry.locator("dt").all_text_contents() == [row["name"] for row in joint["figures"]]
        assert entry.locator("dd").all_text_contents() == [row["value"] for row in joint["figures"]]
        expect(entry).to_contain_text("Holds" if joint["holds"] else "Does not hold")
        press(entry.get_by_role("button"))
        assert pressed(page, "#joints") == [joint["name"]]
        says(page, f"Joint: {joint['name']}")
        assert sight(page) != before
        before = sight(page)


def test_pieces_are_listed_with_their_dimensions_and_marked(page: Page) -> None:
    first, variant = picture(page), document(page)["variants"][0]
    entries = opened_fold(page, "pieces").locator("li")
    assert entries.count() == len(variant["pieces"])
    piece, entry = variant["pieces"][5], entries.nth(5)
    assert entry.locator("dd").all_text_contents() == [each["value"]["in"] for each in piece["dimensions"]]
    press(entry.get_by_role("button"))
    assert pressed(page, "#pieces") == [piece["name"]]
    assert differing(first, picture(page)) > 0.001
    press(entry.get_by_role("button"))
    assert pressed(page, "#pieces") == []
    assert np.array_equal(picture(page), first)


def test_a_piece_that_is_tapped_is_named_and_marked_in_the_list(page: Page) -> None:
    opened_fold(page, "pieces")
    piece = document(page)["variants"][0]["pieces"][5]
    at = page.evaluate("(point) => window.__preview.stage.project(point)", piece["label"])
    page.locator("#picture canvas").click(position=at)
    says(page, f"{piece['name']}, {piece['short']['in']}")
    assert pressed(page, "#pieces") == [piece["name"]]


def test_whether_all_checks_hold_is_said(page: Page) -> None:
    variant = document(page)["variants"][0]
    assert variant["holds"] is True
    part = page.locator("#checked")
    expect(part).to_contain_text(f"All {variant['checks']} checks of the model hold.")
    assert part.locator("dd").all_text_contents() == [variant["code"], variant["digest"][:16]]


def test_what_does_not_hold_is_said_plainly(page: Page) -> None:
    """A failure put into the document by hand, as a figure that comes later would."""
    page.evaluate(
        "() => { const { variants } = window.__preview.document; variants[0].holds = false;"
        " variants[0].failures = ['The gap at the second corner is 1.2 mm; 0.05 mm is allowed.']; }"
    )
    pick(page, "oak")
    pick(page, "white")
    expect(page.locator("#checked .fails")).to_contain_text("not all hold")
    expect(page.locator("#checked li")).to_have_text("The gap at the second corner is 1.2 mm; 0.05 mm is allowed.")


def test_a_scene_without_options_has_no_empty_controls(page_of: PageOf, opened: Opener) -> None:
    page = opened(plain(page_of("bay")))
    assert document(page)["choices"] == []
    expect(page.locator("#choices")).to_be_hidden()
    assert page.locator("#beside").count() == 0


def test_on_paper_stands_the_picture_as_it_is(page: Page) -> None:
    press(page.get_by_role("button", name="Plan"))
    seen = picture(page)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    still = page.evaluate("() => document.querySelector('#still').toDataURL('image/png').split(',')[1]")
    assert differing(pixels(still), seen) == 0
    expect(page.locator("#still")).to_be_visible()
    expect(page.locator("#facts-fold")).to_have_attribute("open", "")
    expect(page.locator("#tables table").first).to_be_visible()
    for control in ("#tools", "#views", "#cutting", "#answering form"):
        expect(page.locator(control)).to_be_hidden()
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(page.locator("#still")).to_be_hidden()
    expect(page.locator("#facts-fold")).not_to_have_attribute("open", "")
