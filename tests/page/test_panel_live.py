"""The page of `molding show`: it follows the file, tells what is wrong with it, and writes to it."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from browsing import Accessible, Opener
from panel_page import document, opened_fold, press, sight
from preview.cli.serving import SceneJob
from preview.live import serve
from stage_pictures import differing, picture, rested

SCENE = """title = "Two walls"
units = "in"  # as measured

[profile.base]
library = "ogee-base"

[finish.white]
color = "#F1EEE6"

[finish.oak]
color = "#b98d5a"

[member.base]
profile = "base"
finish = "white"

[[run]]
name = "wall"
members = ["base"]
steps = [
  { straight = "20 1/2" },  # to the window
  { left = 90 },
  { straight = 30 },
]
"""
REFUSED = r"status of 422"
CONFLICT = r"status of 409"
GONE = r"ERR_|Failed to fetch"


class Shop:
    """The server of one scene, in a thread of its own."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.address = ""
        self._ready = threading.Event()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        assert self._ready.wait(60), "the server did not start"

    def _run(self) -> None:
        self._task = self._loop.create_task(serve(SceneJob(self.file), ready=self._told))
        with pytest.raises(asyncio.CancelledError):
            self._loop.run_until_complete(self._task)

    def _told(self, address: str) -> None:
        self.address = address
        self._ready.set()

    def stop(self) -> None:
        self._loop.call_soon_threadsafe(self._task.cancel)
        self._thread.join(60)
        assert not self._thread.is_alive()

    def write(self, old: str, new: str) -> None:
        """As an editor saves: beside, then into its place."""
        text = self.file.read_text("utf-8")
        assert old in text
        beside = self.file.with_suffix(".saving")
        beside.write_text(text.replace(old, new), "utf-8")
        beside.replace(self.file)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    file = tmp_path / "two-walls.toml"
    file.write_text(SCENE, "utf-8")
    started = Shop(file)
    yield started
    if started._thread.is_alive():
        started.stop()


@pytest.fixture
def shown(shop: Shop, opened: Opener) -> Callable[..., Page]:
    def open_(*expected: str, ready: bool = True) -> Page:
        server = shop.address.partition("/?")[0]
        return opened(f"{shop.address}#env=hemi", server=server, expect=expected, ready=ready)

    return open_


def field(page: Page, group: str, label: str) -> Locator:
    """A field of the scene file by what it is called in errors."""
    part = opened_fold(page, "editing").locator(".fields").filter(has=page.get_by_role("heading", name=group))
    if part.get_attribute("open") is None:
        part.locator("summary").click()
    return part.get_by_label(label, exact=True)


def note(entry: Locator) -> Locator:
    """What is said under a field."""
    return entry.locator("xpath=ancestor::*[contains(@class, 'edit')]").locator(".wrong")


def test_a_save_is_shown_and_what_is_looked_at_stays(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown()
    assert page.title() == "Two walls"
    press(page.get_by_role("button", name="Plan"))
    page.get_by_label("What stands around the molding").uncheck()
    opened_fold(page, "pieces")
    before, looked_at = picture(page), sight(page)
    shop.write('finish = "white"', 'finish = "oak"')
    expect(page.locator("#finishes option").first).to_contain_text("oak")
    assert sight(page) == looked_at
    assert differing(before, picture(page)) > 0.01
    expect(page.locator("#around")).not_to_be_checked()
    shop.write("{ straight = 30 }", "{ straight = 36 }")
    expect(page.locator("#pieces li").last).to_contain_text('36"')
    assert "straight = 36" in shop.file.read_text("utf-8")


def test_the_checks_come_a_moment_later(shown: Callable[..., Page]) -> None:
    page = shown()
    expect(page.locator("#checked")).to_contain_text("of the model hold", timeout=20_000)
    entry = opened_fold(page, "joints").locator("li").first
    expect(entry.locator("dd")).to_have_text(
        [row["value"] for row in document(page)["variants"][0]["joints"][0]["figures"]]
    )


def test_a_mistake_stands_over_the_last_good_picture(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown(REFUSED)
    before = picture(page)
    shop.write("straight = 30", "strait = <b>30")
    banner = page.locator("#banner")
    expect(banner).to_contain_text("The picture is the last that could.")
    expect(banner.locator("pre")).to_contain_text("two-walls.toml")
    assert banner.locator("b").count() == 0
    assert differing(before, picture(page)) == 0
    shop.write("strait = <b>30", "strait = 30")
    expect(banner.locator("pre")).to_contain_text("fix: did you mean straight?")
    shop.write("strait", "straight")
    expect(banner).to_be_hidden()


def test_a_scene_that_is_wrong_from_the_start_is_shown_once_it_is_mended(tmp_path: Path, opened: Opener) -> None:
    file = tmp_path / "wrong.toml"
    file.write_text(SCENE.replace("left = 90", "left = 900"), "utf-8")
    shop = Shop(file)
    page = opened(f"{shop.address}#env=hemi", server=shop.address.partition("/?")[0], ready=False)
    expect(page.locator("#banner")).to_contain_text("wrong.toml")
    expect(page.locator("#banner")).not_to_contain_text("the last that could")
    expect(page.locator("#panel")).to_be_hidden()
    shop.write("left = 900", "left = 90")
    expect(page.locator("#banner")).to_be_hidden()
    expect(page.locator("#panel")).to_be_visible()
    rested(page)
    assert page.evaluate("window.__preview.stage.statistics().triangles") > 0
    page.close()
    shop.stop()


def test_a_field_is_written_as_it_was_typed_and_undone(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown()
    entry = field(page, 'run "wall"', "step 1, straight")
    assert entry.input_value() == "20 1/2"
    undo = page.locator("#undo")
    expect(undo).to_be_disabled()
    entry.fill("21 3/8")
    entry.press("Enter")
    expect(undo).to_have_text("Undo the last change (1)")
    assert '{ straight = "21 3/8" },  # to the window' in shop.file.read_text("utf-8")
    expect(entry).to_be_focused()
    expect(opened_fold(page, "pieces").locator("li").first).to_contain_text("21 3/8")
    undo.click()
    expect(undo).to_have_text("Nothing to undo")
    expect(entry).to_have_value("20 1/2")
    assert shop.file.read_text("utf-8") == SCENE


def test_what_is_refused_is_told_under_the_field_and_stays_typed(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown(REFUSED)
    entry = field(page, 'run "wall"', "step 3, straight")
    entry.fill("1 3,8")
    entry.press("Enter")
    expect(note(entry)).to_contain_text("fix: use a point for decimals")
    expect(entry).to_have_attribute("aria-invalid", "true")
    shop.write("20 1/2", "22")
    expect(field(page, 'run "wall"', "step 1, straight")).to_have_value("22")
    expect(entry).to_have_value("1 3,8")
    expect(note(entry)).to_contain_text("fix: use a point for decimals")
    entry.press("Escape")
    expect(entry).to_have_value("30")
    expect(note(entry)).to_be_hidden()


def test_a_slider_writes_the_last_place_only_in_the_file_s_own_style(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown()
    edits: list[str] = []
    page.on("request", lambda request: edits.append(request.url) if request.url.endswith("/edit") else None)
    slider = field(page, 'run "wall"', "step 1, straight, slider")
    for _ in range(8):
        slider.press("ArrowRight")
    entry = field(page, 'run "wall"', "step 1, straight")
    expect(entry).to_have_value("21")
    assert '{ straight = "21" },  # to the window' in shop.file.read_text("utf-8")
    assert 1 <= len(edits) <= 4
    expect(slider).to_have_attribute("aria-valuetext", "21")


def test_a_color_and_a_choice_are_written(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown()
    color = field(page, 'finish "white"', "color")
    assert color.get_attribute("type") == "color"
    color.fill("#336699")
    expect(page.locator("#undo")).to_have_text("Undo the last change (1)")
    assert 'color = "#336699"' in shop.file.read_text("utf-8")
    field(page, 'member "base"', "finish").select_option("oak")
    expect(page.locator("#undo")).to_have_text("Undo the last change (2)")
    assert 'finish = "oak"' in shop.file.read_text("utf-8")


def test_what_is_being_typed_outlives_a_change_from_elsewhere(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown()
    entry = field(page, 'run "wall"', "step 1, straight")
    entry.fill("24 1/")
    shop.write("20 1/2", "23")
    expect(note(entry)).to_have_text("The file now says 23.")
    expect(entry).to_have_value("24 1/")
    expect(entry).to_be_focused()


def test_a_conflict_shows_both_and_decides_nothing(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown(CONFLICT)
    entry = field(page, 'run "wall"', "step 1, straight")
    first = True

    def elsewhere_first(route: Route) -> None:
        nonlocal first
        if first:
            shop.write("20 1/2", "23")
        first = False
        route.continue_()

    page.route("**/edit", elsewhere_first)
    entry.fill("24")
    entry.press("Enter")
    expect(note(entry)).to_contain_text("The file was changed elsewhere; here is what it says now: 23. You wanted 24.")
    expect(entry).to_have_value("24")
    assert 'straight = "23"' in shop.file.read_text("utf-8")
    page.get_by_role("button", name="Write mine").click()
    expect(note(entry)).to_be_hidden()
    expect(page.locator("#undo")).to_have_text("Undo the last change (1)")
    assert 'straight = "24"' in shop.file.read_text("utf-8")
    page.unroute("**/edit")


def test_a_broken_line_is_told_quietly(shop: Shop, shown: Callable[..., Page]) -> None:
    page = shown(GONE)
    entry = field(page, 'run "wall"', "step 1, straight")
    expect(page.locator("#link")).to_be_hidden()
    shop.stop()
    expect(page.locator("#link")).to_contain_text("trying again", timeout=20_000)
    entry.fill("24")
    entry.press("Enter")
    expect(note(entry)).to_contain_text("nothing was written")
    expect(entry).to_have_value("24")
    assert shop.file.read_text("utf-8") == SCENE
    assert page.evaluate("window.__preview.stage.statistics().triangles") > 0


def test_axe_finds_nothing_in_the_fields(shown: Callable[..., Page], accessible: Accessible) -> None:
    page = shown(REFUSED)
    entry = field(page, 'run "wall"', "step 3, straight")
    for group in ('member "base"', 'finish "white"'):
        field(page, group, "finish" if "member" in group else "color")
    entry.fill("nothing")
    entry.press("Enter")
    expect(note(entry)).to_be_visible()
    assert accessible(page) == []
