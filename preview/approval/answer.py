"""The client's answer, as the page saves it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from preview.approval.code import short_code
from preview.approval.reading import ANSWER, Fields, again, parse_object, read_bytes, wrong
from preview.errors import PreviewError

KIND = "molding answer"
SCHEMA = 1
LARGEST = 64_000
"""Bytes."""
KEYS = (
    "schema",
    "kind",
    "title",
    "file",
    "digest",
    "code",
    "picks",
    "answer",
    "client",
    "remarks",
    "finishes",
    "answered",
)
LONGEST_NAME, LONGEST_TITLE, LONGEST_REMARKS = 120, 500, 10_000
MOST_PICKS, MOST_FINISHES = 8, 200
DIGEST = re.compile(r"[0-9a-f]{64}")

Says = Literal["yes", "changes"]


@dataclass(frozen=True)
class Answer:
    """What a client answered, and for which model.

    digest: of the model that was shown; code: its short form. picks: for each choice, the name of what was picked.
    says: yes to it, or that changes are wanted. finishes: for a member, the finish that is asked for instead.
    answered: the date, ISO 8601. title, file: of the scene the page was made from.
    """

    digest: str
    code: str
    picks: tuple[tuple[str, str], ...]
    says: Says
    client: str
    remarks: str
    finishes: tuple[tuple[str, str], ...]
    answered: str
    title: str = ""
    file: str = ""

    @property
    def approves(self) -> bool:
        """Whether it is a yes to the model just as it was shown: no changes and no other finish asked for."""
        return self.says == "yes" and not self.finishes


def read_answer(path: Path) -> Answer:
    """Read an answer file: strict JSON of at most 64 kB, every key known and of its kind.

    Raises PreviewError, with the path as its file, for anything else.
    """
    data = read_bytes(path, ANSWER, LARGEST)
    try:
        return answer_of(parse_object(data, ANSWER))
    except PreviewError as error:
        raise error.in_file(str(path)) from error.__cause__


def answer_of(data: dict[str, object], place: str = "") -> Answer:
    """The answer that an object holds. Raises PreviewError."""
    fields = Fields(data, ANSWER, place)
    if data.get("kind") != KIND:
        raise wrong(place, None, "this is not the answer that a client's page saves", again(ANSWER))
    fields.only(KEYS)
    fields.number("schema", SCHEMA)
    digest = fields.text("digest", 64)
    if not DIGEST.fullmatch(digest):
        raise wrong("digest", None, "it is not a model's digest, which has 64 digits 0-9 and a-f", again(ANSWER))
    code = fields.text("code", 40)
    if code != short_code(digest):
        problem = f"it does not belong to the digest beside it, whose code is {short_code(digest)}"
        raise wrong("code", None, problem, again(ANSWER))
    says: Says = "yes" if fields.one_of("answer", ("yes", "changes")) == "yes" else "changes"
    return Answer(
        digest,
        code,
        fields.pairs("picks", MOST_PICKS, LONGEST_NAME),
        says,
        fields.text("client", LONGEST_NAME),
        fields.text("remarks", LONGEST_REMARKS, marks="any", empty=True),
        fields.pairs("finishes", MOST_FINISHES, LONGEST_NAME),
        fields.day("answered"),
        fields.text("title", LONGEST_TITLE, marks="any"),
        fields.text("file", LONGEST_TITLE, marks="any"),
    )


def answer_object(answer: Answer) -> dict[str, object]:
    """An answer as the object that a page saves; `answer_of` reads it back."""
    return {
        "schema": SCHEMA,
        "kind": KIND,
        "title": answer.title,
        "file": answer.file,
        "digest": answer.digest,
        "code": answer.code,
        "picks": dict(answer.picks),
        "answer": answer.says,
        "client": answer.client,
        "remarks": answer.remarks,
        "finishes": dict(answer.finishes),
        "answered": answer.answered,
    }
