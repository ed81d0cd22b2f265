"""What is served: a job that knows its files, builds its model and edits its text. The room knows no more of scenes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol


class Conflict(Exception):  # noqa: N818 - what it is called on the wire and by people
    """An edit of a text that has changed since the page saw it; its words are for the person who made it."""


@dataclass(frozen=True)
class Model:
    """A model ready to be fetched. version: letters, digits, - and _ only; other bytes have another one."""

    version: str
    payload: bytes


class Job(Protocol):
    """What is served.

    `model`, `files`, `fields`, `edit` and `undo` are called in one thread, one at a time; `figures` in another one,
    also while `model` runs. All but `files` may raise PreviewError.
    """

    def files(self) -> Sequence[Path]:
        """The files to watch, those among them that are not there too; asked again after every `model`."""

    def model(self) -> Model:
        """The model as the files are now; cheap where nothing has changed."""

    def figures(self) -> Mapping[str, Any]:
        """What the checks say of the last model, slower; `version` in it names the model it belongs to."""

    def page(self, token: str) -> bytes:
        """The HTML of the page, which has to show the token with every request."""

    def fields(self) -> Mapping[str, Any]:
        """What can be edited, as JSON, with the `version` of the text."""

    def edit(self, version: str, id: str, value: str | float) -> str:  # noqa: A002 - the page's own word
        """Write one field; gives the new version of the text. Raises Conflict where the text is another by now.

        value: a text as somebody typed it, or the number of a slider.
        """

    def undo(self, version: str) -> str:
        """Take the last edit back; gives the version of the text. Raises Conflict as `edit` does."""
