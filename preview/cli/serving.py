"""The verb `show`: a scene's page in the browser, which follows every save of the scene's files."""

from __future__ import annotations

import asyncio
import hashlib
import os
import re
import stat
import sys
import threading
import webbrowser
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import typer

from preview import editing, live
from preview.cli.visible import visible
from preview.client import Shown, figures, live_html, model_document
from preview.errors import PreviewError, Problem
from preview.review import checked, every_shown
from preview.scene import load_scene

VERSION_LENGTH = 32
SWITCH = 0.001
"""Seconds for which one thread may keep the others waiting: the checks must not hold up a save."""
NAMED = re.compile(r"""["']([^"'\r\n]{1,200}\.[A-Za-z]{1,5})["']""")
"""A quoted text that may name a file."""
MOST_NAMED = 64
LARGEST = 16_000_000
"""Bytes: a larger file is told from another by its time, not by what stands in it."""


def show_scene(path: Path, *, port: int, browser: bool) -> None:
    """Serve the page until Ctrl-C, and say where it is.

    Raises PreviewError for a scene that is not there and a port that cannot be had. A scene with a mistake in it is
    shown all the same: the page says what is wrong until it is put right.
    """
    if not path.is_file():
        load_scene(path)  # says what is wrong with it

    def ready(address: str) -> None:
        typer.echo(f"Showing {visible(path)}. The page is for this machine only, at this address, token and all:")
        typer.echo(f"  {address}")
        typer.echo("It follows every save of the scene and of the profiles and drawings in it. Ctrl-C ends it.")
        if browser:
            threading.Thread(target=open_page, args=(address,), name="molding browser", daemon=True).start()

    sys.setswitchinterval(SWITCH)
    with suppress(KeyboardInterrupt):
        asyncio.run(live.serve(SceneJob(path), port=port, ready=ready))
    typer.echo("stopped")


def open_page(address: str) -> None:
    """Open the address in a browser with a window, if there is one; the address is printed in any case."""
    with suppress(Exception):
        found = webbrowser.get()
        # A browser in the terminal would take the terminal from us. Who names one in BROWSER wants it.
        if type(found) is not webbrowser.GenericBrowser or "BROWSER" in os.environ:
            found.open(address)


@dataclass(frozen=True)
class Made:
    """A scene as it was built, and what the page shows of it."""

    model: live.Model
    shown: tuple[Shown, ...]


class SceneJob:
    """A scene file as the live server's job. What it has made is kept until one of the files says something else."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._desk = editing.Desk(path)
        self._files: tuple[Path, ...] = named_files(path)
        self._read: tuple[bytes | None, ...] | None = None
        self._wrong: tuple[Problem, ...] = ()
        self._made: Made | None = None
        self._number = 0

    def files(self) -> Sequence[Path]:
        """The files of the scene; where it is wrong, those of before and those that it seems to name."""
        return self._files

    def model(self) -> live.Model:
        """The model of all variants. Raises PreviewError, as `molding check` would tell it."""
        self._number += 1  # first of all, so that checks that still go on make way
        files, read = self._files, contents(self._files)
        times = [live.stamp(file) for file in files]
        if read != self._read:
            self._wrong = ()
            try:
                self._made = self._build()
            except PreviewError as error:
                self._wrong = error.problems
                self._files = tuple(dict.fromkeys([*named_files(self._path), *self._files]))[: 2 * MOST_NAMED]
            # What was saved while it was read will have to be read again, also where it was put back since.
            same = files == self._files and times == [live.stamp(file) for file in files] and contents(files) == read
            self._read = read if same else None
        if self._wrong or self._made is None:
            raise PreviewError.several(self._wrong)
        return self._made.model

    def _build(self) -> Made:
        scene = load_scene(self._path)
        shown = every_shown(scene)
        self._files = tuple(dict.fromkeys(file for each in shown for file in each.built.scene.files))
        payload = model_document(scene, shown)
        version = hashlib.sha256(payload).hexdigest()[:VERSION_LENGTH]
        return Made(live.Model(version, payload), shown)

    def figures(self) -> dict[str, Any]:
        """What `molding check` measures, for every variant; of no version when the model was asked for again since."""
        made, number = self._made, self._number
        if made is None:
            return {"version": ""}

        def go_on(*_: object) -> None:
            if number != self._number:
                raise OutrunError

        try:
            return {"version": made.model.version, **figures([checked(each, go_on) for each in made.shown])}
        except OutrunError:
            return {"version": ""}

    def page(self, token: str) -> bytes:
        """The page with no model in it."""
        return live_html(token)

    def fields(self) -> dict[str, Any]:
        """Everything in the scene file that can be edited."""
        sheet = self._desk.sheet()
        return {"version": sheet.version, "undo": sheet.undo, "fields": [asdict(field) for field in sheet.fields]}

    def edit(self, version: str, id: str, value: str | float) -> str:  # noqa: A002 - the page's own word
        """Write one value into the scene file."""
        try:
            return self._desk.edit(version, id, value)
        except editing.Conflict as error:
            raise live.Conflict(str(error)) from None

    def undo(self, version: str) -> str:
        """Take the last edit back."""
        try:
            return self._desk.undo(version)
        except editing.Conflict as error:
            raise live.Conflict(str(error)) from None


class OutrunError(Exception):
    """The model that is being measured is no longer the latest."""


def contents(files: Sequence[Path]) -> tuple[bytes | None, ...]:
    """What stands in the files, as digests; None for one that cannot be read."""
    return tuple(_digest(file) for file in files)


def _digest(file: Path) -> bytes | None:
    try:
        found = file.stat()
        if not stat.S_ISREG(found.st_mode):
            return None
        if found.st_size > LARGEST:
            return f"{found.st_mtime_ns} {found.st_size}".encode()
        return hashlib.sha256(file.read_bytes()).digest()
    except (OSError, ValueError):
        return None


def named_files(path: Path) -> tuple[Path, ...]:
    """The scene file and all that it seems to name, and what those name in turn, whether they are there or not.

    For a scene that cannot be read: when a missing profile comes to be, it is worth another try. Goes by the look of
    the text alone, so it may name too much.
    """
    found = [path]
    for file in found:
        for name in _names_in(file):
            other = file.parent / name
            if other not in found and len(found) < MOST_NAMED:
                found.append(other)
    return tuple(found)


def _names_in(file: Path) -> Iterator[str]:
    if file.suffix == ".toml":
        with suppress(OSError, ValueError):
            yield from NAMED.findall(file.read_text("utf-8", errors="replace"))
