"""Names are text, whatever they hold, and the page builds no markup from text."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from browsing import Opener, PageOf
from panel_page import document, opened_fold, pick
from stage_pictures import plain

CLIENT = Path(__file__).parent.parent.parent / "preview" / "client"
SCRIPTS = sorted(p for part in ("main.ts", "panel/*.ts", "stage/*.ts") for p in (CLIENT / "web" / "src").glob(part))
MARKUP = re.compile(
    r"\b(?:innerHTML|outerHTML|insertAdjacentHTML|setHTMLUnsafe|createContextualFragment|DOMParser|srcdoc)\b"
    r"|\bdocument\.write|\beval\(|\bnew Function\b|\bset(?:Timeout|Interval)\(\s*[\"'`]"
    r"|setAttribute\(\s*[\"'`](?:style|on)|\.on[a-z]+\s*=(?!=)|javascript:"
)
HOSTILE = '</script><img src=x onerror="window.hit=1"><!--@@MODEL@@<b>&amp;'
SCENE = """
title = '''HOSTILE title'''
units = "in"
[profile.base]
library = "ogee-base"
[finish."HOSTILE finish"]
color = "#f1eee6"
[finish.plain]
color = "#b98d5a"
[member."HOSTILE member"]
profile = "base"
finish = "HOSTILE finish"
[[run]]
name = '''HOSTILE run'''
members = ["HOSTILE member"]
room = "right"
start = [0, 0]
steps = [{ straight = 20 }, { left = 90 }, { straight = 20 }]
[[option]]
choice = '''HOSTILE choice'''
name = '''HOSTILE one'''
says = '''HOSTILE says'''
[[option]]
choice = '''HOSTILE choice'''
name = '''HOSTILE two'''
changes = [{ member = "HOSTILE member", finish = "plain" }]
"""


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_no_script_makes_markup_or_code_of_text(script: Path) -> None:
    found = [line for line in script.read_text("utf-8").splitlines() if MARKUP.search(line)]
    assert not found


def test_this_rule_would_notice() -> None:
    assert len(SCRIPTS) > 20
    for line in (
        "a.innerHTML = b",
        "document.write(a)",
        "eval(a)",
        "new Function(a)",
        "setTimeout('a')",
        "a.setAttribute('style', b)",
        "a.onclick = b",
    ):
        assert MARKUP.search(line), line


def test_the_template_has_no_styles_or_handlers_in_its_tags() -> None:
    found: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.extend(f"{tag} {name}" for name, _ in attrs if name == "style" or name.startswith("on"))

    Reader().feed((CLIENT / "page" / "page.html").read_text("utf-8"))
    assert not found


def hostile(folder: Path) -> Path:
    """The scene with that in each of its names, as far as a scene may have it."""
    quoted = SCENE.replace('"HOSTILE', '"' + HOSTILE.replace('"', '\\"'))
    scene = folder / "hostile.toml"
    scene.write_text(quoted.replace("HOSTILE", HOSTILE), "utf-8")
    return scene


def test_hostile_names_do_nothing(page_of: PageOf, opened: Opener, tmp_path: Path) -> None:
    page = opened(plain(page_of(hostile(tmp_path))))
    shown = document(page)
    assert shown["title"] == f"{HOSTILE} title"
    assert page.locator("h1").text_content() == shown["title"]
    for fold in ("joints", "pieces"):
        opened_fold(page, fold)
    page.locator("#facts-fold summary").click()
    page.get_by_label("Names of the pieces").check()
    pick(page, f"{HOSTILE} two")
    page.select_option("#beside", index=1)
    page.select_option("#cut-at", index=1)
    page.locator("#joints-0").click()
    page.get_by_label("Yes, make it like this").check()
    page.get_by_label("Your name").fill(HOSTILE)
    page.get_by_role("button", name="Save the answer").click()
    assert json.loads(page.locator("#answer-text").input_value())["client"] == HOSTILE
    assert page.locator("#panel").inner_text().count("onerror") > 5
    assert page.locator("img").count() == page.locator("#poster > img").count()
    assert page.locator("#panel b, #tables b, #halves b, h1 b").count() == 0
    assert page.evaluate("window.hit") is None
