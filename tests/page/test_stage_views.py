"""Every view of every scene that ships has what it is for in the picture, at a desk and on a phone.

What is looked at is each corner of each triangle, as the stage was given it; not the boxes that the camera goes by.
"""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page

from browsing import Opener, PageOf
from preview.shipped import folder
from stage_pictures import STAGE, plain

SCENES = sorted(path.stem for path in folder("scenes").glob("*.toml"))
SIZES = ((1280, 800), (390, 844))
SPREADS = f"""() => {{
    const stage = {STAGE};
    const {{ variants }} = window.__preview.document;
    const {{ bodies }} = stage.loaded;
    const {{ pieces, paths, joints, views }} = variants[0];
    const {{ width, height }} = stage.panes[0].frame;
    const seen = (points) => {{
        const at = points.map((point) => stage.project(point));
        const ends = (values, size) => [Math.min(...values) / size, Math.max(...values) / size];
        return {{ across: ends(at.map(({{ x }}) => x), width), down: ends(at.map(({{ y }}) => y), height) }};
    }};
    const moved = (flat, origin) =>
        Array.from({{ length: flat.length / 3 }}, (_, i) => origin.map((part, k) => part + flat[3 * i + k]));
    const wood = () => pieces.flatMap(({{ body, origin }}) => moved(bodies.points(body), origin));
    const section = (cut) => {{
        const parts = stage.panes[0].section.cuts.filter(({{ piece }}) => pieces[piece].run === paths[cut.path].run);
        const near = parts.filter(({{ box }}) => box.distanceToPoint(stage.cutAway.place.at) < 350);
        return near.flatMap(({{ box: {{ min, max }} }}) =>
            [...Array(8).keys()].map((i) => [i & 1 ? max.x : min.x, i & 2 ? max.y : min.y, i & 4 ? max.z : min.z]));
    }};
    const found = views.map((view) => {{
        stage.cut(view.cut);
        stage.view(view, false);
        const points = view.cut ? section(view.cut) : view.kind === "corner" ? [view.target] : wood();
        return {{ name: view.name, kind: view.kind, count: points.length, ...seen(points) }};
    }});
    stage.cut(null);
    for (const [i, joint] of joints.entries()) {{
        if (!joint.rim) continue;
        stage.joint(i);
        const {{ name, eye, target }} = joint;
        stage.view({{ name, kind: "corner", eye, target, flat: false, near: 0, cut: null }}, false);
        const rim = moved(bodies.floats(joint.rim), [0, 0, 0]);
        found.push({{ name, kind: "joint", count: rim.length, ...seen(rim) }});
    }}
    stage.joint(null);
    stage.home(false);
    return found;
}}"""


def spreads(page: Page, size: tuple[int, int]) -> list[dict[str, Any]]:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.wait_for_function(
        f"""(width) => {{
            const {{ frame }} = {STAGE}.panes[0];
            const {{ clientWidth, clientHeight }} = document.querySelector(".stage-picture").parentElement;
            return innerWidth === width && frame.width === clientWidth && frame.height === clientHeight;
        }}""",
        arg=size[0],
    )
    found: list[dict[str, Any]] = page.evaluate(SPREADS)
    return found


@pytest.mark.parametrize("scene", SCENES)
def test_views_show_what_they_are_for(opened: Opener, page_of: PageOf, scene: str) -> None:
    page = opened(plain(page_of(scene)), SIZES[0])
    for size in SIZES:
        found = spreads(page, size)
        assert found[0]["kind"] == "whole"
        for view in found:
            told = (size, view)
            assert view["count"] > 0, told
            for low, high in (view["across"], view["down"]):
                assert 0 <= low <= high <= 1, told
            spans = [high - low for low, high in (view["across"], view["down"])]
            if view["kind"] in ("whole", "plan"):
                # It fills the picture one way, and stands in its middle both ways.
                assert max(spans) > 0.7, told
                assert all(abs(low + high - 1) < 0.16 for low, high in (view["across"], view["down"])), told
            elif view["kind"] == "end":
                assert max(spans) > 0.25, told
