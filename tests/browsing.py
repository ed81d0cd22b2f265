"""What the tests of the client's page have in common: the browser, what they may ask of it, what it must not do."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

import pytest
from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Request, WebSocket

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
ASKED = "MOLDING_BROWSER_TESTS"
# Root has no sandbox; the rest keeps the browser off the network and draws WebGL without a graphics card.
ARGUMENTS = (
    "--no-sandbox",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-quic",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
)
DESKTOP = (1280, 800)
READY_SECONDS = 60
WITHIN = ("about:", "blob:", "data:")
READY = """async (seconds) => {
    if (!window.__preview) throw new Error("the page's script did not start: there is no window.__preview");
    const late = new Promise((_, refuse) => setTimeout(refuse, seconds * 1000, new Error("the page was not ready")));
    await Promise.race([window.__preview.ready, late]);
}"""


class PageOf(Protocol):
    """Gives the client's page of a scene as a file: by the name of one that ships, or a path to one."""

    def __call__(self, scene: str | Path) -> Path: ...


class Opener(Protocol):
    """Opens a file or an address in a new window and waits until its picture is drawn.

    size: of the window, in CSS pixels. ready: wait for the picture. expect: patterns of errors that the test means to
    provoke. server: the address, such as http://127.0.0.1:8000, that the page may ask things of; none by default.
    Other words go to the browser's new_context: java_script_enabled, has_touch, reduced_motion and so on.
    """

    def __call__(
        self,
        what: Path | str,
        size: tuple[int, int] = DESKTOP,
        *,
        ready: bool = True,
        expect: Sequence[str] = (),
        server: str | None = None,
        **context: Any,
    ) -> Page: ...


class Accessible(Protocol):
    """What axe finds wrong with an opened page, a line for each; within: a selector, the whole page by default."""

    def __call__(self, page: Page, within: str | None = None) -> list[str]: ...


@dataclass
class Watch:
    """What went wrong in a window."""

    allowed: tuple[str, ...]
    expect: Sequence[str]
    faults: list[str] = field(default_factory=list)

    def over(self, context: BrowserContext) -> None:
        context.on("console", self._said)
        context.on("weberror", lambda error: self._fault(f"threw {error.error}"))
        context.on("request", self._asked)
        context.on("page", lambda page: page.on("websocket", self._socket))

    def _fault(self, text: str) -> None:
        if not any(re.search(pattern, text) for pattern in self.expect):
            self.faults.append(text)

    def _said(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self._fault(f"logged {message.text}")

    def _asked(self, request: Request) -> None:
        if not request.url.startswith(self.allowed):
            self._fault(f"asked for {request.url}")

    def _socket(self, socket: WebSocket) -> None:
        self._fault(f"opened {socket.url}")


def chromium() -> str:
    """The browser's program. Skips the test, or fails it, where there is none."""
    for name in NAMES:
        if found := shutil.which(name):
            return found
    why = f"no Chromium: none of {', '.join(NAMES)} is on PATH"
    if os.environ.get(ASKED) == "required":
        pytest.fail(f"{why}, and {ASKED} says that these tests are required")
    pytest.skip(why)
