"""What the stage is asked for is seen in the picture, and gone from it when it is taken back."""

from __future__ import annotations

import numpy as np
import pytest
from playwright.sync_api import Page

from browsing import Opener, PageOf
from stage_pictures import STAGE, ask, differing, picture, plain, rested

WINDOW = (960, 640)
MIDDLE = {"path": 0, "station": 1500.0}
ACTS = {
    "cut": (("cut", MIDDLE), ("cut", None)),
    "apart": (("apart", 1), ("apart", 0)),
    "finish": (("finish", "base", "oak"), ("finish", "base", None)),
    "mark": (("mark", [5]), ("mark", [])),
    "joint": (("joint", 2), ("joint", None)),
    "around": (("around", False), ("around", True)),
    "surround": (("surround", "dark"), ("surround", "light")),
    "compare": (("compare", 0), ("compare", None)),
}
LEAST = {"mark": 0.004, "finish": 0.01}


def test_every_act_shows_and_leaves_nothing_behind(opened: Opener, page_of: PageOf) -> None:
    page = opened(plain(page_of("window-seat")), WINDOW)
    names = page.evaluate("window.__preview.document.finishes.map((finish) => finish.name)")
    ask(page, "surround", "light")
    ask(page, "home", False)
    rested(page)
    before = picture(page)
    for name, (do, undo) in ACTS.items():
        for what, *values in (do, undo):
            ask(page, what, *(names.index(value) if value == "oak" else value for value in values))
            rested(page)
            if what == do[0] and [*values] == [*do[1:]]:
                assert differing(before, picture(page)) > LEAST.get(name, 0.02), name
        ask(page, "home", False)
        rested(page)
        assert np.array_equal(picture(page), before), name


def test_halves_are_equal_when_both_variants_are(opened: Opener, page_of: PageOf) -> None:
    """One variant beside itself, as a whole and cut open."""
    page = opened(plain(page_of("window-seat")), WINDOW)
    ask(page, "compare", 0)
    for cut in (None, MIDDLE):
        ask(page, "cut", cut)
        rested(page)
        shot = picture(page)
        split = page.evaluate("document.querySelector('.stage-picture').parentElement.dataset.split")
        half = shot.shape[1] // 2 if split == "columns" else shot.shape[0] // 2
        first, second = (shot[:, :half], shot[:, half : 2 * half])
        if split == "rows":
            first, second = shot[:half], shot[half : 2 * half]
        # The line between them lies over two pixels.
        inner = (slice(2, -2), slice(2, -2))
        # Soft shadows are sampled by a noise that goes by the pixel.
        assert differing(first[inner], second[inner], by=2) < 0.01
        assert differing(first[inner], second[inner], by=12) < 0.001
        assert first.reshape(-1, 3).std(axis=0).max() > 10
    ask(page, "compare", None)
    assert page.evaluate("document.querySelector('.stage-picture').parentElement.dataset.split ?? null") is None


def shown_labels(page: Page) -> list[dict[str, float | str]]:
    found: list[dict[str, float | str]] = page.evaluate(
        """() => [...document.querySelectorAll(".stage-label:not([hidden])")].map((label) => {
            const { left, top, right, bottom } = label.getBoundingClientRect();
            const size = label.querySelector(".stage-label-size:not([hidden])")?.textContent ?? "";
            return { text: label.textContent, size,
                     left, top, right, bottom };
        })"""
    )
    return found


def test_labels_say_what_the_document_says_and_do_not_overlap(opened: Opener, page_of: PageOf) -> None:
    page = opened(plain(page_of("window-seat")), WINDOW)
    pieces = page.evaluate("window.__preview.document.variants[0].pieces")
    frame = page.evaluate(
        "(({ left, top, right, bottom }) => ({ left, top, right, bottom }))"
        "(document.querySelector('.stage-picture').getBoundingClientRect())"
    )
    for unit in ("in", "mm"):
        ask(page, "labels", {"names": True, "dimensions": unit})
        rested(page)
        labels = shown_labels(page)
        assert len(labels) >= 4
        assert {label["size"] for label in labels} <= {piece["short"][unit] for piece in pieces}
        for i, one in enumerate(labels):
            assert one["left"] >= frame["left"]
            assert one["right"] <= frame["right"]
            for other in labels[i + 1 :]:
                apart = (
                    one["right"] <= other["left"]
                    or other["right"] <= one["left"]
                    or one["bottom"] <= other["top"]
                    or other["bottom"] <= one["top"]
                )
                assert apart, (one["text"], other["text"])
    # Seen from behind, what the piers and the seat hide has no label; a cut piece does not say its whole length.
    ask(page, "turn", np.pi, 0)
    rested(page)
    assert not shown_labels(page)
    ask(page, "home", False)
    ask(page, "cut", MIDDLE)
    rested(page)
    cut_size = next(piece["short"]["mm"] for piece in pieces if piece["name"].endswith("6 straight"))
    assert cut_size not in {label["size"] for label in shown_labels(page)}
    ask(page, "labels", {"names": False, "dimensions": "off"})
    rested(page)
    assert not shown_labels(page)


def test_section_stays_in_its_place_while_it_moves_along(opened: Opener, page_of: PageOf) -> None:
    """The eye rides along with the cut, round corners as well: what is cut stays where it was in the picture."""
    page = opened(plain(page_of("window-seat"), "plain-cap"), WINDOW)
    ask(page, "cut", {"path": 0, "station": 150.0})
    rested(page)
    before = picture(page)
    wood = cap_mask(before)
    assert wood.mean() > 0.02
    for station in (250.0, 1500.0):
        ask(page, "cut", {"path": 0, "station": station})
        rested(page)
        moved = cap_mask(picture(page))
        assert (moved != wood).mean() < 0.004, station


def cap_mask(shot: np.ndarray) -> np.ndarray:
    """Where the cut's one color stands: the most common of those that are neither gray nor near it."""
    flat = shot.reshape(-1, 3)
    warm = flat[flat[:, 0].astype(int) - flat[:, 2] > 40]
    colors, counts = np.unique(warm, axis=0, return_counts=True)
    return (shot == colors[counts.argmax()]).all(axis=2)


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)], ids=["desk", "phone"])
@pytest.mark.parametrize("scene", ["window-seat", "cornice", "stair-wall"])
def test_whole_fits_the_picture(opened: Opener, page_of: PageOf, scene: str, size: tuple[int, int]) -> None:
    """At home every piece is in the picture, and their middles reach over four tenths of it one way."""
    page = opened(plain(page_of(scene)), size)
    found = page.evaluate(
        f"""() => {{
            const stage = {STAGE};
            const host = document.querySelector(".stage-picture").getBoundingClientRect();
            const at = window.__preview.document.variants[0].pieces.map((piece) => stage.project(piece.label));
            const spread = (key) => Math.max(...at.map((p) => p[key])) - Math.min(...at.map((p) => p[key]));
            const inside = at.every(({{ x, y }}) => x > 0 && y > 0 && x < host.width && y < host.height);
            return {{ inside, across: spread("x") / host.width, upward: spread("y") / host.height }};
        }}"""
    )
    assert found["inside"]
    assert max(found["across"], found["upward"]) > 0.4
