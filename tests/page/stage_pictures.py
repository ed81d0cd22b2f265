"""The stage of an opened page, driven past the panel, and its picture as an array."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Page

Pixels = NDArray[np.uint8]

STAGE = "window.__preview.stage"
PICTURE = f"""async () => {{
    const bytes = new Uint8Array(await (await {STAGE}.snapshot()).arrayBuffer());
    let text = "";
    for (const byte of bytes) text += String.fromCharCode(byte);
    return btoa(text);
}}"""
RESTED = f"""async () => {{
    const late = performance.now() + 60000;
    while ({STAGE}.busy) {{
        if (performance.now() > late) throw new Error("the stage does not come to rest");
        await new Promise((done) => setTimeout(done, 30));
    }}
}}"""


def plain(page: Path, *words: str) -> str:
    """The address of a page whose stage makes no room to be mirrored, so that pictures stay as they are."""
    return f"{page.as_uri()}#{'&'.join(('env=hemi', *words))}"


def ask(page: Page, what: str, *values: Any) -> Any:
    """What the stage answers: ask(page, "cut", {...}) calls stage.cut({...})."""
    return page.evaluate(f"(values) => {STAGE}.{what}(...values)", list(values))


def rested(page: Page) -> None:
    """Wait until the stage has drawn all it was asked to."""
    page.evaluate(RESTED)


def picture(page: Page) -> Pixels:
    """The picture as it stands, (h, w, 3): drawn anew, without what lies over it."""
    return pixels(page.evaluate(PICTURE))


def pixels(text: str) -> Pixels:
    """A picture (h, w, 3) from its file in base64."""
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(text))).convert("RGB"))


def differing(before: Pixels, after: Pixels, by: int = 8) -> float:
    """The share of the pixels in which two pictures differ by more than `by` of 255 in some part."""
    apart = np.abs(before.astype(int) - after.astype(int)).max(axis=2)
    return float((apart > by).mean())


def places(page: Page, points: Sequence[Sequence[float]]) -> NDArray[np.float64]:
    """Where points (n, 3), mm from the document's origin, fall in the picture: (n, 2), px right and down."""
    found = page.evaluate(
        f"(points) => points.map((point) => {{ const at = {STAGE}.project(point); return [at.x, at.y]; }})", points
    )
    return np.asarray(found, dtype=np.float64)


def view(eye: Sequence[float], target: Sequence[float], *, flat: bool = False) -> dict[str, Any]:
    """A view as the document holds them."""
    return {"name": "", "kind": "end", "eye": list(eye), "target": list(target), "flat": flat, "near": 0, "cut": None}
