"""GLB files in a web page: three.js with its own loader and decoder, in a browser without a network.

three.js is what the client's page is drawn with; its loader of glTF and its decoder of EXT_meshopt_compression (the
reference decoder, MIT) are other people's code, and the page uses neither.
"""

from __future__ import annotations

import base64
import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page

from browsing import Opener, chromium
from preview.build import Built, build
from preview.exports.glb import built_glb
from preview.exports.glb_compact import compact_glb
from preview.exports.glb_levels import level_files, levels_of
from preview.scene import load_scene

ROOT = Path(__file__).parents[2]
HOOK = ROOT / "preview" / "client" / "web" / "hatch_build.py"
PICTURE = (320, 200)
FORMATS: dict[str, Callable[[Built], bytes]] = {"GLB": built_glb, "compact": compact_glb}


@pytest.fixture(scope="module")
def built() -> Built:
    """Straights and curves, paint and clear wood to choose from, things around."""
    return build(load_scene(ROOT / "scenes" / "window-seat.toml"))


@pytest.fixture(scope="module")
def loader(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page with nothing but the loader."""
    chromium()  # first, as the bundle takes seconds where its parts must come
    spec = importlib.util.spec_from_file_location("hatch_build_here", HOOK)
    assert spec is not None
    assert spec.loader is not None
    hook = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(hook)
    page = tmp_path_factory.mktemp("loader") / "page.html"
    script = page.with_name("load.js")
    hook.bundled(Path(__file__).with_name("load_gltf.js"), script)
    page.write_text(f"<!doctype html><title>glTF</title><script>{script.read_text('ascii')}</script>", "ascii")
    return page


@pytest.fixture
def page(opened: Opener, loader: Path) -> tuple[Page, list[str]]:
    """The page, and all that is logged in it."""
    page = opened(loader, ready=False)
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    return page, said


def called(page: Page, function: str, glb: bytes, *more: int) -> Any:
    return page.evaluate(f"words => window.{function}(...words)", [base64.b64encode(glb).decode(), *more])


def check_bodies(found: list[dict[str, Any]], built: Built) -> float:
    """Names, runs, triangles and boxes as the build has them; returns how far the boxes are off, mm."""
    pieces = {each["name"]: each for each in found if "surroundings" not in each["above"]}
    assert sorted(pieces) == sorted(piece.name for piece in built.pieces)
    assert len(found) > len(pieces)
    off = 0.0
    for mesh, member in zip(built.meshes, built.members, strict=True):
        shown = pieces[mesh.piece.name]
        assert shown["above"][0] == mesh.piece.run
        assert shown["finish"] == member.finish.name
        assert shown["triangles"] == len(mesh.triangles)
        turned = np.stack([mesh.points[:, 0], mesh.points[:, 2], -mesh.points[:, 1]], axis=1)
        box = 1000 * np.array([shown["low"], shown["high"]]) - [turned.min(axis=0), turned.max(axis=0)]
        off = max(off, float(np.abs(box).max()))
    return off


@pytest.mark.parametrize(("name", "within"), [("GLB", 0.001), ("compact", 0.025)])
def test_three_js_shows_every_piece_where_it_stands(
    name: str, within: float, page: tuple[Page, list[str]], built: Built
) -> None:
    """within: mm. The seat reaches 2.8 m, so its grid has steps of 0.043 mm, of which rounding takes half."""
    shown, said = page
    assert check_bodies(called(shown, "bodies", FORMATS[name](built)), built) < within
    assert not said


def test_three_js_shows_the_levels(page: tuple[Page, list[str]], built: Built) -> None:
    shown, said = page
    for (_, file), coarser in zip(level_files(built, "seat"), levels_of(built), strict=True):
        assert check_bodies(called(shown, "bodies", file), coarser) < 0.025
    assert not said


@pytest.mark.parametrize("name", list(FORMATS))
def test_three_js_changes_to_each_finish(name: str, page: tuple[Page, list[str]], built: Built) -> None:
    """By KHR_materials_variants, as the extension tells a viewer to."""
    shown, said = page
    found = called(shown, "variants", FORMATS[name](built))
    drawn = {piece.name: member.finish.name for piece, member in zip(built.pieces, built.members, strict=True)}
    assert len(found) > 2
    for variant, worn in found.items():
        pieces = {piece: finish for piece, finish in worn.items() if piece in drawn}
        assert pieces == (drawn if variant == "as drawn" else dict.fromkeys(drawn, variant))
    assert not said


@pytest.mark.parametrize("scene", ["window-seat", "bay"])
def test_the_compact_file_looks_like_the_other(scene: str, page: tuple[Page, list[str]]) -> None:
    """Pixel by pixel, paint and clear wood: edges may move by a part of a pixel, shades by a few steps of 256."""
    shown, _ = page
    drawn = build(load_scene(ROOT / "scenes" / f"{scene}.toml"))
    pictures = [np.array(called(shown, "picture", write(drawn), *PICTURE), float) for write in FORMATS.values()]
    assert pictures[0].std() > 10, "there is nothing in the picture"
    off = np.abs(pictures[0] - pictures[1])
    assert off.mean() < 0.5
    assert np.percentile(off, 99) < 6
