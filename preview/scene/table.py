"""A cursor on one table of the file, which knows its place and writes every mistake into one log."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar, cast, overload

from preview import limits
from preview.errors import MOST_TOLD, PreviewError, Problem
from preview.scene.kinds import Kind, in_a_row, name, suggested, with_value
from preview.scene.written import key_written, what, written

T = TypeVar("T")


class Log:
    """The mistakes found so far, in the order of reading."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def add(self, error: PreviewError) -> None:
        """Note all mistakes of an error."""
        self.problems.extend(error.problems)


class Readings:
    """What the tables of a file were read as, so that one which an option leaves alone is not read a second time."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, ...], tuple[tuple[object, ...], object, list[Problem]]] = {}

    def once(self, table: Table, uses: Sequence[object], read: Callable[[], T]) -> T:
        """What `read` makes of a table; what it made before, where the table and all that it uses are the same objects.

        The mistakes found then are noted again.
        """
        held = (table.data, *uses)  # held, so that no other object can take the place of one of them
        key = tuple(id(each) for each in held)
        if key not in self._known:
            noted = len(table.log.problems)
            self._known[key] = (held, read(), table.log.problems[noted:])
        else:
            table.log.problems.extend(self._known[key][2])
        return cast("T", self._known[key][1])


class Table:
    """One table of the file.

    place: how errors speak of it, such as `run "north wall", step 3`; "" at the top. A key that holds a
    mistake is noted in the log and read as its default, or as None, so that reading goes on.
    """

    def __init__(self, data: Mapping[str, object], place: str, log: Log) -> None:
        self.data = data
        self.place = place
        self.log = log
        self._told: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self.data

    def shown(self, key: str) -> str | None:
        """The value of a key as it was written; None when it is not there."""
        return written(self.data[key]) if key in self.data else None

    def told(self, key: str) -> bool:
        """Whether this key was noted as misspelled or wrongly headed; what lacks for that is not told too."""
        return key in self._told

    def wrong(self, key: str, value: str | None, problem: str, fix: str) -> None:
        """Note a mistake at a key of this table ("" for the table itself)."""
        self.log.add(PreviewError(self._at(key), value, problem, fix))

    def rightly_named(self, label: str) -> None:
        """Note what is wrong with the name in this table's own heading, which stands in the names of pieces."""
        try:
            name(label)
        except PreviewError as error:
            for problem in error.problems:
                self.wrong("", None, problem.problem, problem.fix)

    # Keys.

    def only(self, keys: tuple[str, ...], here: str) -> None:
        """Note every key that is not one of `keys`, naming the nearest. `here` is such as "in a run"."""
        for key, value in self.data.items():
            if key in keys:
                continue
            if len(self.log.problems) >= MOST_TOLD:  # no message tells more, and looking for near words takes long
                self.wrong(key_written(key), None, f"there is no key {written(key)} {here}", "leave it out")
                continue
            meant = suggested(key, [each for each in keys if each not in self.data])
            if meant:
                self._told.add(meant)
                fix = f"did you mean {meant}?"
            else:
                fix = f"the keys {here} are {in_a_row(keys, 'and')}" if len(keys) > 1 else "leave it out"
            shown = None if _is_heading(value) else written(value)
            self.wrong(key_written(key), shown, f"there is no key {written(key)} {here}", fix)

    @overload
    def take(self, key: str, kind: Kind[T], default: None) -> T | None: ...

    @overload
    def take(self, key: str, kind: Kind[T], default: T) -> T: ...

    def take(self, key: str, kind: Kind[T], default: T | None) -> T | None:
        """The value of a key that may be left out."""
        if key not in self.data:
            return default
        value = self.data[key]
        try:
            return kind(value)
        except PreviewError as error:
            for problem in with_value(error, value).problems:
                self.log.problems.append(replace(problem, place=self._at(problem.place or key_written(key))))
            return default

    def need(self, key: str, kind: Kind[T], fix: str) -> T | None:
        """The value of a key that must be there; None when it is missing or wrong. `fix`: what to write."""
        if key not in self.data and not self.told(key):
            self.wrong(key, None, "this key is missing", fix)
        return self.take(key, kind, None)

    def one(self, words: Mapping[str, tuple[str, ...]], noun: str) -> str | None:
        """The one key that says what this entry of a list is; None, and noted, when there is none or several.

        words: each word that may say it, with the other keys that go with it. Any key beyond those is noted.
        """
        given = [word for word in self.data if word in words]
        # A word may also be a key that goes with another: { inside = 90, block = "corner" }.
        given = [word for word in given if not any(word in words[other] for other in given)]
        if len(given) == 1:
            self.only((given[0], *words[given[0]]), f"in a {noun} with {given[0]}")
            return given[0]
        others = {key for keys in words.values() for key in keys}
        strange = [key for key in self.data if key not in words and key not in others]
        fix = f"the {noun}s are {in_a_row(list(words), 'and')}"
        if given:
            said = f"this is {len(given)} {noun}s in one: {in_a_row(given, 'and')}"
            each = ", ".join(f"{{ {key_written(word)} = {self.shown(word)} }}" for word in given)
            fix = f"write each between its own braces: {each}"
        elif strange:
            said = f"no {noun} is called {written(strange[0])}"
            meant = suggested(strange[0], words)
            fix = f"did you mean {meant}?" if meant else fix
        else:
            said = f"nothing in it says which {noun} it is"
        self.wrong("", written(self.data), said, fix)
        return None

    # Tables in this one.

    def named(self, key: str) -> dict[str, Table]:
        """The tables under headings [key.NAME], by name."""
        value = self.data.get(key, {})
        entries = value if isinstance(value, dict) else {"": None}
        if not all(isinstance(entry, dict | list) for entry in entries.values()):
            shown = None if _is_heading(value) else written(value)
            problem = f"every {key} needs a heading with a name of its own"
            self.wrong(key, shown, problem, f"write [{key}.base], say, above its keys")
            self._told.add(key)
            return {}
        if self.overfull(key, len(entries), limits.HEADINGS):
            self._told.add(key)
            return {}
        found: dict[str, Table] = {}
        for label, entry in entries.items():
            place = f"{key} {written(label)}"
            if isinstance(entry, dict):
                found[label] = Table(entry, place, self.log)
            else:
                fix = f"write it in single ones: [{key}.{key_written(label)}]"
                self.wrong(place, None, "its heading is in double brackets", fix)
                self._told.add(key)
        return found

    def alone(self, key: str) -> Table | None:
        """The table under a heading [key], of which a scene has one; None where it has none, or where that is noted."""
        data = self.data.get(key)
        if data is None:
            return None
        if not isinstance(data, dict):
            problem = f"a scene has one {key}, under a heading in single brackets"
            shown = written(data) if not isinstance(data, list) else None
            self.wrong(key, shown, problem, f"write [{key}] above its keys, once")
            return None
        return Table(data, f"[{key}]", self.log)

    def headed(self, key: str) -> list[Table]:
        """The tables under headings [[key]], placed by their name where no other has it, else by number."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
            shown = None if _is_heading(value) else written(value)
            problem = f"every {key} needs a heading in double brackets"
            self.wrong(key, shown, problem, f"write [[{key}]] above its keys, once for each")
            self._told.add(key)
            return []
        if self.overfull(key, len(value), limits.HEADINGS):
            self._told.add(key)
            return []
        labels = [entry.get("name") for entry in value]
        found: list[Table] = []
        for number, (entry, label) in enumerate(zip(value, labels, strict=True), 1):
            alone = isinstance(label, str) and label.strip() and labels.count(label) == 1
            found.append(Table(entry, f"{key} {written(label) if alone else number}", self.log))
        return found

    def rows(self, key: str, noun: str, example: str) -> list[Table]:
        """The entries of a list that are tables, placed by noun and number; the others are noted."""
        value = self.data.get(key, [])
        if not isinstance(value, list):
            self.wrong(key, written(value), f"it must be a list of {noun}s", f"write {key} = [{example}, ...]")
            return []
        if self.overfull(key, len(value), limits.ENTRIES):
            self._told.add(key)
            return []
        found: list[Table] = []
        for number, entry in enumerate(value, 1):
            if isinstance(entry, dict):
                found.append(Table(entry, self._at(f"{noun} {number}"), self.log))
            else:
                problem = f"a {noun} stands between braces, and this is {what(entry)}"
                self.wrong(f"{noun} {number}", written(entry), problem, f"write it like {example}")
        return found

    def overfull(self, key: str, count: int, limit: limits.Limit) -> bool:
        """Whether a key holds more than is read, which is noted."""
        try:
            limit.refuse(count, "it", "split the scene into several files")
        except PreviewError as error:
            self.log.add(error.at(self._at(key)))
            return True
        return False

    def _at(self, place: str) -> str:
        return ", ".join(part for part in (self.place, place) if part)


def _is_heading(value: object) -> bool:
    """Whether a value is what stands under a heading, which is too long to show."""
    return isinstance(value, dict) or (isinstance(value, list) and any(isinstance(v, dict) for v in value))
