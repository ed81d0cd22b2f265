"""The answer file that the client's page saves: read whole or refused, with one clear error."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.approval import Answer, harmless, read_answer, short_code
from preview.approval.answer import answer_object, answer_of
from preview.approval.reading import parse_object
from preview.errors import PreviewError

T = TypeVar("T")
DIGEST = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
GOOD: dict[str, object] = {
    "schema": 1,
    "kind": "molding answer",
    "title": "Window seat between stone piers",
    "file": "window-seat.toml",
    "digest": DIGEST,
    "code": "WERC-8GMB",
    "picks": {"corner": "mitered"},
    "answer": "yes",
    "client": "Jo Ash",
    "remarks": "Lovely.\r\nPlease start.",
    "finishes": {},
    "answered": "2026-11-25",
}
AS_SAVED = "\n  fix: use an answer as the page saved it, unchanged"


def told(path: Path) -> str:
    """The whole message of a refused file, the path left out."""
    with pytest.raises(PreviewError) as caught:
        read_answer(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    return message.removeprefix(str(path)).removeprefix(": ").removeprefix("\n").removeprefix("  ")


def saved(tmp_path: Path, data: object) -> Path:
    path = tmp_path / "seat-answer.json"
    path.write_bytes(data if isinstance(data, bytes) else json.dumps(data).encode())
    return path


def test_a_good_answer_is_read(tmp_path: Path) -> None:
    assert short_code(DIGEST) == GOOD["code"]
    answer = read_answer(saved(tmp_path, GOOD))
    assert answer == Answer(
        DIGEST,
        "WERC-8GMB",
        (("corner", "mitered"),),
        "yes",
        "Jo Ash",
        "Lovely.\nPlease start.",
        (),
        "2026-11-25",
        "Window seat between stone piers",
        "window-seat.toml",
    )
    assert answer.approves
    assert answer_of(answer_object(answer)) == answer


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    assert read_answer(saved(tmp_path, b"\xef\xbb\xbf" + json.dumps(GOOD).encode())).client == "Jo Ash"


@pytest.mark.parametrize(
    ("change", "approves"),
    [({"answer": "changes"}, False), ({"finishes": {"base": "oak"}}, False), ({"finishes": {}}, True)],
)
def test_only_a_yes_to_what_was_shown_approves(change: dict[str, object], approves: bool, tmp_path: Path) -> None:
    assert read_answer(saved(tmp_path, GOOD | change)).approves is approves


BAD: dict[str, tuple[object, str]] = {
    "empty": (b"", "it is not JSON: line 1, column 1" + AS_SAVED),
    "no JSON": (b'{"schema": 1,\n oops}', "it is not JSON: line 2, column 2" + AS_SAVED),
    "a list": (b"[]", "it holds a list, not an answer" + AS_SAVED),
    "null": (b"null", "it holds null, not an answer" + AS_SAVED),
    "not UTF-8": (b'{"kind": "\xff"}', "it is not UTF-8 text" + AS_SAVED),
    "UTF-16": (json.dumps(GOOD).encode("utf-16"), "it is not UTF-8 text" + AS_SAVED),
    "NaN": (b'{"schema": NaN}', "NaN is not a number that JSON has" + AS_SAVED),
    "Infinity": (b'{"schema": -Infinity}', "-Infinity is not a number that JSON has" + AS_SAVED),
    "long number": (b'{"schema": ' + b"9" * 5000 + b"}", "it holds a number of more than 20 digits" + AS_SAVED),
    "twice": (b'{"kind": "a", "kind": "b"}', 'the key "kind" stands in it twice' + AS_SAVED),
    "twice within": (
        json.dumps(GOOD).replace('{"corner": "mitered"}', '{"a": "b", "a": "c"}').encode(),
        'the key "a" stands in it twice' + AS_SAVED,
    ),
    "deep": (b"[" * 60_000, "its brackets are nested deeper than in an answer" + AS_SAVED),
    "large": (b" " * 64_001, "it is larger than 64 kB, so it is not an answer\n  fix: check the file"),
    "another kind": (GOOD | {"kind": "recipe"}, "this is not the answer that a client's page saves" + AS_SAVED),
    "no kind": ({}, "this is not the answer that a client's page saves" + AS_SAVED),
    "unknown key": (GOOD | {"price": 3}, '"price"\n  no key of an answer has this name' + AS_SAVED),
    "key missing": (
        {key: value for key, value in GOOD.items() if key != "client"},
        '"client"\n  this key is missing' + AS_SAVED,
    ),
    "later schema": (
        GOOD | {"schema": 2},
        "schema\n  it was written by another version of the program: 2, and this one reads 1" + AS_SAVED,
    ),
    "schema text": (GOOD | {"schema": "1"}, "schema\n  it has to be 1, and is text" + AS_SAVED),
    "schema true": (GOOD | {"schema": True}, "schema\n  it has to be 1, and is true or false" + AS_SAVED),
    "schema decimal": (GOOD | {"schema": 1.0}, "schema\n  it has to be 1, and is a number" + AS_SAVED),
    "digest short": (
        GOOD | {"digest": "e3b0"},
        "digest\n  it is not a model's digest, which has 64 digits 0-9 and a-f" + AS_SAVED,
    ),
    "digest long": (GOOD | {"digest": "0" * 65}, "digest\n  it has 65 letters, and 64 is the most" + AS_SAVED),
    "code of another": (
        GOOD | {"code": "0000-0000"},
        "code\n  it does not belong to the digest beside it, whose code is WERC-8GMB" + AS_SAVED,
    ),
    "picks a list": (
        GOOD | {"picks": ["mitered"]},
        "picks\n  it has to be names and their values, and is a list" + AS_SAVED,
    ),
    "picks deep": (GOOD | {"picks": {"corner": {}}}, "picks, corner\n  it has to be text, and is an object" + AS_SAVED),
    "picks many": (
        GOOD | {"picks": {str(k): "a" for k in range(9)}},
        "picks\n  it has 9 entries, and 8 is the most" + AS_SAVED,
    ),
    "a pick's control": (
        GOOD | {"picks": {"\x1b[31m": "a"}},
        "picks, ?[31m\n  it holds a mark that does not print, U+001B" + AS_SAVED,
    ),
    "another word": (
        GOOD | {"answer": "no"},
        'answer\n  it has to be "yes" or "changes", and is "no"' + AS_SAVED,
    ),
    "answer null": (GOOD | {"answer": None}, 'answer\n  it has to be "yes" or "changes", and is null' + AS_SAVED),
    "no name": (GOOD | {"client": "  "}, "client\n  it is empty" + AS_SAVED),
    "a number for a name": (GOOD | {"client": 7}, "client\n  it has to be text, and is a number" + AS_SAVED),
    "a long name": (GOOD | {"client": "x" * 121}, "client\n  it has 121 letters, and 120 is the most" + AS_SAVED),
    "two lines": (GOOD | {"client": "Jo\nAsh"}, "client\n  it holds a mark that does not print, U+000A" + AS_SAVED),
    "turned round": (
        GOOD | {"client": "Jo \u202eAsh"},
        "client\n  it holds a mark that does not print, U+202E" + AS_SAVED,
    ),
    "half a character": (
        json.dumps(GOOD).replace("Jo Ash", "Jo \\ud800").encode(),
        "client\n  it holds half of a character" + AS_SAVED,
    ),
    "half in remarks": (
        json.dumps(GOOD).replace("Lovely", "\\udc00").encode(),
        "remarks\n  it holds half of a character" + AS_SAVED,
    ),
    "long remarks": (
        GOOD | {"remarks": "x" * 10_001},
        "remarks\n  it has 10,001 letters, and 10,000 is the most" + AS_SAVED,
    ),
    "no day": (
        GOOD | {"answered": "2026-02-30"},
        'answered\n  "2026-02-30" is not a date such as 2026-11-25' + AS_SAVED,
    ),
    "a week": (
        GOOD | {"answered": "2026-W48-3"},
        'answered\n  "2026-W48-3" is not a date such as 2026-11-25' + AS_SAVED,
    ),
    "a moment": (
        GOOD | {"answered": "2026-11-25T10:00"},
        'answered\n  "2026-11-25T10:00" is not a date such as 2026-11-25' + AS_SAVED,
    ),
    "finish a list": (
        GOOD | {"finishes": {"base": []}},
        "finishes, base\n  it has to be text, and is a list" + AS_SAVED,
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_anything_else_is_refused_in_words(name: str, tmp_path: Path) -> None:
    data, message = BAD[name]
    assert told(saved(tmp_path, data)) == message


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    assert told(tmp_path / "none.json") == "there is no such file: an answer was expected\n  fix: check its name"
    assert told(tmp_path) == "this is a folder, not an answer\n  fix: name the file in it"


def test_names_of_every_script_are_read(tmp_path: Path) -> None:
    for name in ("Zoë O’Hara", "山田 太郎", "علی‌رضا", "Jo\u00a0Ash", "नि‍का"):
        assert read_answer(saved(tmp_path, GOOD | {"client": name})).client == name


def test_what_a_scene_may_be_called_an_answer_may_hold(tmp_path: Path) -> None:
    """A soft hyphen stands in many names that were copied from a page, and a scene lets it stand."""
    soft = "win\u00addow"
    answer = read_answer(saved(tmp_path, GOOD | {"title": soft, "file": f"{soft}.toml", "picks": {soft: soft}}))
    assert (answer.title, answer.picks) == (soft, ((soft, soft),))
    assert harmless(answer.title) == "win[U+00AD]dow"


def test_remarks_are_kept_and_shown_without_harm(tmp_path: Path) -> None:
    """A path that was copied from a file manager may begin with a mark that turns the direction of reading."""
    answer = read_answer(saved(tmp_path, GOOD | {"remarks": "see \u202aC:\\plan\x1b[2J\nand call"}))
    assert answer.remarks == "see \u202aC:\\plan\x1b[2J\nand call"
    assert harmless(answer.remarks) == "see [U+202A]C:\\plan[U+001B][2J and call"


@given(st.text())
def test_what_is_shown_holds_nothing_hidden(text: str) -> None:
    shown = harmless(text)
    assert all(
        letter.isprintable() or letter in "\u200c\u200d\u200e\u200f\u00a0" or letter.isspace() for letter in shown
    )
    assert not re.search(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", shown)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


def read_or_refused(read: Callable[[], T]) -> T | None:
    """What was read, or None where it was refused with one clear error."""
    try:
        return read()
    except PreviewError as error:
        (problem,) = error.problems
        if not (problem.problem and problem.fix):
            raise AssertionError("an error says what is wrong and what to do") from error
        return None


@given(st.sampled_from(sorted(GOOD)), JSON)
def test_any_value_is_read_or_refused(key: str, value: object) -> None:
    answer = read_or_refused(lambda: answer_of(GOOD | {key: value}))
    assert answer is None or answer_of(answer_object(answer)) == answer


@given(st.binary(max_size=200) | JSON.map(lambda value: json.dumps(value).encode()))
def test_any_bytes_are_an_object_or_refused(data: bytes) -> None:
    found = read_or_refused(lambda: parse_object(data, "an answer"))
    assert found is None or found == json.loads(data)
