"""The stage at rest, under a hand, when the model changes, when the graphics go: nothing drawn, lost or left over."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page

from browsing import Opener, PageOf
from stage_pictures import STAGE, ask, differing, picture, plain, rested

WINDOW = (960, 640)
NO_RIMS = "for (const { joints } of told.variants) for (const joint of joints) joint.rim = null;"
NO_SURROUNDINGS = "for (const variant of told.variants) variant.surroundings = [];"
BLUE = "told.finishes.find(({ name }) => name === 'white').color = [0.2, 0.3, 0.5];"
FROM_ELSEWHERE = """
    const shift = (at) => at.forEach((_, i) => (at[i] += 100));
    told.origin = told.origin.map((part) => part - 100);
    for (const { pieces, surroundings, low, high } of told.variants) {
        for (const each of [...pieces, ...surroundings]) shift(each.origin);
        for (const { label } of pieces) shift(label);
        shift(low), shift(high);
    }"""


def show(page: Page, change: str = "", *, keep: bool) -> None:
    """Show the page's own model, taken apart once more, after a change to its document."""
    page.evaluate(
        f"""async () => {{
            const text = document.getElementById("model").textContent.trim();
            const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
            const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
            const container = await new Response(stream).arrayBuffer();
            const length = new DataView(container).getUint32(0, true);
            const told = JSON.parse(new TextDecoder().decode(new Uint8Array(container, 4, length)));
            {change}
            {STAGE}.show({{ document: told, data: container.slice(4 + length) }}, {str(keep).lower()});
        }}"""
    )
    rested(page)


def seated(opened: Opener, page_of: PageOf, **context: Any) -> Page:
    return opened(plain(page_of("window-seat")), WINDOW, **context)


def frames(page: Page) -> int:
    count: int = ask(page, "statistics")["frames"]
    return count


def test_nothing_is_drawn_at_rest(opened: Opener, page_of: PageOf) -> None:
    page = seated(opened, page_of)
    rested(page)
    page.wait_for_timeout(300)
    before = frames(page)
    page.wait_for_timeout(1200)
    assert frames(page) == before
    ask(page, "turn", 0.1, 0)
    rested(page)
    assert frames(page) > before


def test_first_picture_is_timed(
    opened: Opener, page_of: PageOf, record_property: Callable[[str, object], None]
) -> None:
    page = seated(opened, page_of)
    marks = page.evaluate("performance.getEntriesByName('first picture').map((mark) => mark.startTime)")
    assert len(marks) == 1
    assert marks[0] == pytest.approx(page.evaluate(f"{STAGE}.firstPicture"), abs=5)
    record_property("first picture, ms", marks[0])


def test_another_model_keeps_the_camera_and_what_was_asked(opened: Opener, page_of: PageOf) -> None:
    page = seated(opened, page_of)
    ask(page, "cut", {"path": 0, "station": 1500.0})
    ask(page, "apart", 0.4)
    ask(page, "turn", 0.3, 0.1)
    ask(page, "nearer", 1.7)
    rested(page)
    sight, before = ask(page, "sight"), picture(page)
    show(page, keep=True)
    assert ask(page, "sight") == sight
    assert np.array_equal(picture(page), before)
    show(page, BLUE, keep=True)
    assert ask(page, "sight") == sight
    assert differing(before, picture(page)) > 0.02
    show(page, keep=False)
    ask(page, "home", False)
    fresh = ask(page, "sight")
    assert fresh != sight


def test_another_model_needs_no_shader_made_again(opened: Opener, page_of: PageOf) -> None:
    """From the second model on; the first picture's shadows are drawn before its lights are counted."""
    page = seated(opened, page_of)
    show(page, keep=True)
    programs = f"{STAGE}.pencil.renderer.info.programs.map(({{ id }}) => id)"
    before = page.evaluate(programs)
    assert before
    show(page, keep=True)
    assert page.evaluate(programs) == before
    assert page.evaluate(f"{STAGE}.outgoing") is None


def test_another_origin_moves_nothing_in_the_picture(opened: Opener, page_of: PageOf) -> None:
    page = seated(opened, page_of)
    show(page, NO_RIMS, keep=True)
    before = picture(page)
    show(page, NO_RIMS + FROM_ELSEWHERE, keep=True)
    assert differing(before, picture(page), by=24) < 0.002


def test_what_is_no_longer_shown_is_let_go(opened: Opener, page_of: PageOf) -> None:
    """After a round of everything the graphics hold as much after the next rounds, and less for a smaller model."""
    page = seated(opened, page_of)
    held = []
    for _ in range(3):
        show(page, keep=True)
        ask(page, "compare", 0)
        ask(page, "cut", {"path": 0, "station": 900.0})
        ask(page, "joint", 3)
        rested(page)
        ask(page, "joint", None)
        ask(page, "compare", None)
        ask(page, "cut", None)
        ask(page, "home", False)
        rested(page)
        held.append(ask(page, "memory"))
    assert held[1] == held[0]
    assert held[2] == held[0]
    show(page, NO_SURROUNDINGS, keep=True)
    assert ask(page, "memory")["geometries"] < held[0]["geometries"] - 3


def test_graphics_that_are_lost_come_back(opened: Opener, page_of: PageOf) -> None:
    page = seated(
        opened,
        page_of,
    )
    rested(page)
    page.evaluate(f"window.heard = []; {STAGE}.on('lost', (lost) => window.heard.push(lost))")
    before = picture(page)
    ask(page, "lose", True)
    page.wait_for_function("window.heard.length === 1")
    ask(page, "turn", 0.1, 0)
    ask(page, "turn", -0.1, 0)
    ask(page, "lose", False)
    page.wait_for_function("window.heard.length === 2")
    rested(page)
    assert page.evaluate("window.heard") == [True, False]
    ask(page, "home", False)
    rested(page)
    assert np.array_equal(picture(page), before)


def center(page: Page) -> tuple[float, float]:
    box = page.locator(".stage-picture").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page: Page, right: float, down: float, button: Any = "left") -> None:
    x, y = center(page)
    page.mouse.move(x, y)
    page.mouse.down(button=button)
    page.mouse.move(x + right / 2, y + down / 2)
    page.mouse.move(x + right, y + down)
    page.mouse.up(button=button)
    rested(page)


def test_a_hand_turns_moves_and_zooms_and_home_brings_it_back(opened: Opener, page_of: PageOf) -> None:
    page = seated(opened, page_of)
    home = ask(page, "sight")
    drag(page, 120, 0)
    turned = ask(page, "sight")
    assert turned["azimuth"] < home["azimuth"] - 0.2
    assert turned["elevation"] == pytest.approx(home["elevation"], abs=1e-6)
    drag(page, 0, -40, "right")
    moved = ask(page, "sight")
    assert moved["azimuth"] == turned["azimuth"]
    assert moved["target"] != turned["target"]
    x, y = center(page)
    page.mouse.move(x, y)
    for _ in range(3):
        page.mouse.wheel(0, -200)
    rested(page)
    assert ask(page, "sight")["half"] < 0.75 * moved["half"]
    # However far one drags: never under the floor, never out of reach.
    for _ in range(4):
        drag(page, 0, -280)
        drag(page, 300, 0, "right")
    far = ask(page, "sight")
    floor = page.evaluate(f"{STAGE}.director.eye.bounds.floor")
    assert far["elevation"] > 0 or far["target"][2] > floor
    eye = page.evaluate(f"{STAGE}.director.camera().position.z")
    assert eye > floor
    box = page.evaluate(f"{STAGE}.director.eye.bounds.box")
    assert all(box["min"][k] - 1 <= part <= box["max"][k] + 1 for k, part in zip("xyz", far["target"], strict=True))
    ask(page, "home", False)
    assert ask(page, "sight") == home


def test_two_fingers_come_nearer(opened: Opener, page_of: PageOf) -> None:
    page = seated(opened, page_of, has_touch=True)
    before = ask(page, "sight")
    x, y = center(page)
    client = page.context.new_cdp_session(page)

    def touch(kind: str, spread: float) -> None:
        points = [{"x": x + side * spread, "y": y, "id": i} for i, side in enumerate((-1, 1))] if spread else []
        client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", 40)
    for spread in (50, 65, 80):
        touch("touchMove", spread)
    touch("touchEnd", 0)
    rested(page)
    after = ask(page, "sight")
    assert after["half"] == pytest.approx(before["half"] / 2, rel=0.25)
    assert after["azimuth"] == before["azimuth"]


def test_a_tap_picks_the_piece_under_it(opened: Opener, page_of: PageOf) -> None:
    page = seated(opened, page_of)
    page.evaluate(f"window.picked = []; {STAGE}.on('pick', (piece) => window.picked.push(piece))")
    box = page.locator(".stage-picture").bounding_box()
    assert box is not None
    pieces = page.evaluate("window.__preview.document.variants[0].pieces")
    wanted = next(i for i, piece in enumerate(pieces) if piece["name"].endswith("6 straight"))
    at = ask(page, "project", pieces[wanted]["label"])
    page.mouse.click(box["x"] + at["x"], box["y"] + at["y"])
    page.mouse.click(box["x"] + 5, box["y"] + box["height"] - 5)
    rested(page)
    assert page.evaluate("window.picked") == [wanted, None]
    # In a cut, on its own face.
    middle = {"path": 0, "station": 150.0}
    ask(page, "cut", middle)
    rested(page)
    x, y = center(page)
    page.mouse.click(x, y)
    assert page.evaluate("window.picked[2]") == 0


@pytest.fixture(scope="module")
def long_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two members along 75 steps out and back: 600 pieces."""
    steps = ["{ straight = 200 }, { left = 90 }, { straight = 200 }, { right = 90 }"] * 75
    steps += ["{ straight = 200 }, { right = 90 }, { straight = 200 }, { left = 90 }"] * 75
    scene = f"""title = "Long run"
units = "mm"
[profile.flat]
foot = 12
face = [{{ fillet = 60 }}]
[member.low]
profile = "flat"
[member.high]
profile = "flat"
up = 60
[[run]]
name = "long"
members = ["low", "high"]
start = [0, 0]
room = "right"
steps = [{", ".join(steps)}, {{ straight = 200 }}]
"""
    path = tmp_path_factory.mktemp("long") / "long-run.toml"
    path.write_text(scene)
    return path


def test_many_pieces_take_no_more_calls(opened: Opener, page_of: PageOf, long_run: Path) -> None:
    """Pieces of a member are drawn at once; they are still moved apart, cut and picked one by one."""
    page = opened(plain(page_of(long_run)), WINDOW)
    pieces = page.evaluate("window.__preview.document.variants[0].pieces")
    assert len(pieces) > 500
    rested(page)
    assert ask(page, "statistics")["calls"] < 12
    together = picture(page)
    ask(page, "apart", 1)
    rested(page)
    assert differing(together, picture(page)) > 0.002
    ask(page, "apart", 0)
    rested(page)
    picked = page.evaluate(
        f"""(numbers) => {{
            const stage = {STAGE};
            window.picked = [];
            stage.on("pick", (piece) => window.picked.push(piece));
            return numbers.map((i) => stage.project(window.__preview.document.variants[0].pieces[i].label));
        }}""",
        [0, 450],
    )
    box = page.locator(".stage-picture").bounding_box()
    assert box is not None
    for at in picked:
        page.mouse.click(box["x"] + at["x"], box["y"] + at["y"])
    found = page.evaluate("window.picked")
    assert len(found) == 2
    assert found[0] != found[1]
    assert all(piece is not None for piece in found)
