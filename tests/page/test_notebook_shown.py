"""What a notebook shows, in a browser: the page runs inside its frame, with a picture, and reaches nothing outside."""

from __future__ import annotations

from pathlib import Path

from browsing import READY, READY_SECONDS, Opener
from preview.notebook import load

SCENES = Path(__file__).parent.parent.parent / "scenes"


def test_the_page_runs_in_its_frame(opened: Opener, tmp_path: Path) -> None:
    notebook = tmp_path / "notebook.html"
    cell = load(SCENES / "bay.toml")._repr_html_()
    notebook.write_text(f"<!doctype html><html lang=en><meta charset=utf-8><title>N</title>{cell}", "utf-8")
    page = opened(notebook, (1000, 800), ready=False)
    (frame,) = page.main_frame.child_frames
    frame.evaluate(READY, READY_SECONDS)
    assert frame.evaluate("window.__preview.document.variants.length") == 1
    assert frame.evaluate("self.origin") == "null"
    assert frame.evaluate("window.__preview.stage.statistics().triangles") > 100
    frame.get_by_role("button", name="Print").click()
    assert page.evaluate("document.querySelector('iframe').getBoundingClientRect().height") == 720
