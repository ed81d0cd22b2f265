"""The page as one file: a template filled once, with a policy that lets nothing in and nothing out.

Scripts and styles are allowed by the hash of their text; everything that a person wrote is escaped; the model stands in
a block that no browser runs.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import re
from collections.abc import Sequence
from html import escape
from pathlib import Path

from preview.client.page.document import model_document
from preview.client.page.fallback import described, tables
from preview.client.page.plan import plan_svg
from preview.client.page.shown import Shown
from preview.errors import PreviewError
from preview.scene import Scene

HERE = Path(__file__).parent
TEMPLATE, STYLE = HERE / "page.html", HERE / "page.css"
BUNDLE = HERE.parent / "static" / "viewer.js"
PLACE = re.compile(r"@@([A-Z]+)@@")
UNSAFE = ("</script", "<!--", "</style")
"""What would end a block of the page early."""


def page_html(scene: Scene, shown: Sequence[Shown], poster: bytes | None) -> bytes:
    """The whole self-contained page.

    poster: a JPEG or a PNG, the still that stands there until the model is drawn, and where it cannot be; None for a
    drawn plan. The same scene gives the same bytes. Raises PreviewError where the viewer was not built, and for a
    poster that is neither.
    """
    model = gzip.compress(model_document(scene, shown), 9, mtime=0)
    return _filled(
        {
            "TITLE": escape(scene.title),
            "POSTER": plan_svg(shown[0]) if poster is None else _still(poster, shown[0]),
            "TABLES": tables(scene, shown),
            "LIVE": "",
            "MODEL": base64.b64encode(model).decode("ascii"),
        },
        "blob:",
    )


def live_html(token: str) -> bytes:
    """The same page without a model: it asks the server that sent it, showing it the token."""
    return _filled(
        {
            "TITLE": "Molding preview",
            "POSTER": "",
            "TABLES": "",
            "LIVE": f' data-live="{escape(token)}"',
            "MODEL": "",
        },
        "'self' blob:",
    )


def policy(script: str, style: str, connect: str) -> str:
    """The content security policy of a page with this script and style, word for word between their tags."""
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src '{_hashed(script)}'",
            f"style-src '{_hashed(style)}'",
            "img-src data: blob:",
            f"connect-src {connect}",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def _filled(parts: dict[str, str], connect: str) -> bytes:
    """The template with everything in its place; what is put in is never looked through for places again."""
    template = TEMPLATE.read_text("utf-8")
    script, style = _bundle(), STYLE.read_text("utf-8")
    for text, name in ((script, BUNDLE.name), (style, STYLE.name)):
        if found := next((bad for bad in UNSAFE if bad in text.lower()), None):
            raise PreviewError("", found, f"{name} holds what would end its block", "build the viewer again")
    parts = parts | {"CSP": policy(script, style, connect), "SCRIPT": script, "STYLE": style}
    return PLACE.sub(lambda place: parts[place[1]], template).encode()


def _bundle() -> str:
    try:
        return BUNDLE.read_text("utf-8")
    except FileNotFoundError:
        raise PreviewError(
            "", None, "the page's viewer is missing from this installation", "install the project again"
        ) from None


def _hashed(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


def _still(poster: bytes, shown: Shown) -> str:
    """The still as an image in the page, with what it shows in words."""
    size = _size_of(poster)
    if size is None:
        raise PreviewError("poster", None, "a page's still is a JPEG or a PNG", "hand over the bytes of one")
    kind, width, height = size
    data = base64.b64encode(poster).decode("ascii")
    return (
        f'<img src="data:image/{kind};base64,{data}" width="{width}" height="{height}" '
        f'alt="{escape(described(shown))}">'
    )


def _size_of(image: bytes) -> tuple[str, int, int] | None:
    """The kind, width and height of a PNG (ISO/IEC 15948) or a JPEG (ITU-T T.81); None for anything else."""
    if image.startswith(b"\x89PNG\r\n\x1a\n") and len(image) >= 24:
        return "png", int.from_bytes(image[16:20], "big"), int.from_bytes(image[20:24], "big")
    at = 2
    while image.startswith(b"\xff\xd8") and at + 9 <= len(image) and image[at] == 0xFF:
        marker = image[at + 1]
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):  # a frame header
            high, wide = image[at + 5 : at + 7], image[at + 7 : at + 9]
            return "jpeg", int.from_bytes(wide, "big"), int.from_bytes(high, "big")
        at += 2 + int.from_bytes(image[at + 2 : at + 4], "big")
    return None
