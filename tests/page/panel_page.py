"""The panel of an opened page: what it says, and the document it should say it of."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Locator, Page, expect

from stage_pictures import ask, rested

PHONE = (390, 844)


def document(page: Page) -> Any:
    """The model document that the page shows, without its arrays."""
    return page.evaluate("window.__preview.document")


def pick(page: Page, name: str) -> None:
    """Pick an alternative by its name, as a hand would: on its label."""
    page.locator("#choices label").filter(has=page.get_by_text(name, exact=True)).click()
    rested(page)


def press(place: Locator) -> None:
    place.click()
    rested(place.page)


def opened_fold(page: Page, fold: str) -> Locator:
    """A folded part of the panel, opened."""
    part = page.locator(f"#{fold}")
    if part.get_attribute("open") is None:
        part.locator("summary").first.click()
    part.locator("li, .field").first.wait_for()
    return part


def says(page: Page, text: str) -> None:
    expect(page.locator("#status")).to_have_text(text)


def sight(page: Page) -> Any:
    """Where the camera stands, once it has come to rest."""
    rested(page)
    return ask(page, "sight")
