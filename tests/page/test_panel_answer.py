"""The client's answer: what the form asks, and the file it saves, read as the shop will read it."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from browsing import Opener, PageOf
from panel_page import document, pick
from preview.approval import read_answer
from stage_pictures import plain

YES = "Yes, make it like this"
CHANGES = "Please change something"


@pytest.fixture
def page(page_of: PageOf, opened: Opener) -> Page:
    return opened(plain(page_of("window-seat")), accept_downloads=True, timezone_id="Pacific/Auckland")


def saved(page: Page, folder: Path) -> Path:
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the answer").click()
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path


def test_the_file_says_what_was_picked_and_written(page: Page, tmp_path: Path) -> None:
    page.clock.set_fixed_time("2026-11-25T20:30:00Z")  # by then it is the 26th where this client is
    pick(page, "mitered")
    page.select_option("#finish-0", "oak")
    page.get_by_label(YES).check()
    page.get_by_label("Your name").fill("  Ann Éxample ")
    page.get_by_label("Remarks").fill('Lovely, "really".\nTwo lines, 🪵 and all.')
    path = saved(page, tmp_path)
    assert path.name == "window-seat-answer.json"
    variant = next(each for each in document(page)["variants"] if each["picks"] == [0, 1, 0])
    answer = read_answer(path)
    assert (answer.digest, answer.code) == (variant["digest"], variant["code"])
    assert dict(answer.picks) == {"profile": "cove and bead", "corners": "mitered", "finish": "white"}
    assert (answer.says, answer.client) == ("yes", "Ann Éxample")
    assert answer.remarks == 'Lovely, "really".\nTwo lines, 🪵 and all.'
    assert dict(answer.finishes) == {"base": "oak"}
    assert answer.answered == "2026-11-26"
    status = page.locator("#saved-status")
    expect(status).to_contain_text("window-seat-answer.json")
    expect(status).to_contain_text("Send this file to the shop")


def test_a_request_for_changes_is_told_from_a_yes(page: Page, tmp_path: Path) -> None:
    page.get_by_label(CHANGES).check()
    page.get_by_label("Your name").fill("Ann Example")
    page.get_by_role("button", name="Save the answer").click()
    expect(page.locator("#remarks-wrong")).to_have_text("Write what should be changed.")
    expect(page.get_by_label("Remarks")).to_be_focused()
    page.get_by_label("Remarks").fill("A lower base, please.")
    assert read_answer(saved(page, tmp_path)).says == "changes"


def test_what_is_missing_is_said_where_it_is_missing(page: Page) -> None:
    page.get_by_role("button", name="Save the answer").click()
    expect(page.locator("#answer-wrong")).to_have_text("Pick one of the two.")
    expect(page.locator("#client-wrong")).to_have_text("Write your name.")
    expect(page.locator("#answer-0")).to_be_focused()
    expect(page.locator("#client")).to_have_attribute("aria-invalid", "true")
    page.get_by_label(YES).check()
    expect(page.locator("#answer-wrong")).to_be_hidden()
    page.get_by_label("Your name").fill("   ")
    page.get_by_role("button", name="Save the answer").click()
    expect(page.locator("#client-wrong")).to_have_text("Write your name.")
    expect(page.locator("#client")).to_be_focused()
    expect(page.locator("#saved-status")).to_be_empty()


def test_longest_texts_are_read_by_the_shop(page: Page, tmp_path: Path) -> None:
    page.get_by_label(YES).check()
    for label, limit in (("Your name", 120), ("Remarks", 4000)):
        place = page.get_by_label(label)
        place.fill("x" * limit)
        place.press("End")
        place.press_sequentially("yz")
        assert place.input_value() == "x" * limit
    answer = read_answer(saved(page, tmp_path))
    assert (len(answer.client), len(answer.remarks)) == (120, 4000)


def test_the_code_to_read_over_the_phone_is_that_of_what_is_shown(page: Page) -> None:
    codes = []
    for name in ("cove and bead", "ogee"):
        pick(page, name)
        codes.append(page.locator("#answering dd").last.inner_text())
    first, second = (each for each in document(page)["variants"] if each["picks"][1:] == [0, 0])
    assert codes == [first["code"], second["code"]]
    assert codes[0] != codes[1]


def test_it_says_that_it_has_no_legal_force(page: Page) -> None:
    part = page.locator("#answering")
    expect(part).to_contain_text("no legal force of its own")
    expect(part).to_contain_text("confirms every measurement on site before it cuts")


def test_where_no_file_appears_its_text_is_there_to_copy(page: Page, tmp_path: Path) -> None:
    page.get_by_label(YES).check()
    page.get_by_label("Your name").fill("Ann Example")
    path = saved(page, tmp_path)
    area = page.get_by_label("No file to be found? Send this text instead:")
    assert area.input_value() == path.read_text("utf-8")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy the text").click()
    expect(page.locator("#saved [role=status]")).to_have_text("Copied")
    assert page.evaluate("navigator.clipboard.readText()") == path.read_text("utf-8")


def test_an_answer_that_is_out_of_date_is_taken_back(page: Page, tmp_path: Path) -> None:
    page.get_by_label(YES).check()
    page.get_by_label("Your name").fill("Ann Example")
    saved(page, tmp_path)
    pick(page, "ogee")
    expect(page.locator("#saved-status")).to_contain_text("save it again")
    expect(page.locator("#answer-text")).to_have_count(0)
    assert dict(read_answer(saved(page, tmp_path)).picks)["profile"] == "ogee"
