"""YAML text as a tree of texts, lists and tables, each with its file and line; nothing else is built."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from functools import cached_property
from typing import Any, NamedTuple, NoReturn, TypeAlias

import yaml

from gpost.common.records import record
from gpost.config.problem import FilePlace, KeyPath, Problem, cut, quoted, shown_path
from gpost.config.scalars import Value, number_hint, resolve

MOST_NODES = 10_000
DEEPEST = 30

_CORE = "tag:yaml.org,2002:"
_TAGS = {
    yaml.ScalarEvent: ("str", "int", "float", "bool", "null"),
    yaml.SequenceStartEvent: ("seq",),
    yaml.MappingStartEvent: ("map",),
}
_KEYS = (yaml.ScalarEvent, yaml.AliasEvent)
_PLAIN_WORDS = (
    ("that cannot start any token", "a tab or a reserved character; indent with spaces, quote texts"),
    (
        "mapping values are not allowed",
        "a ':' can't stand here; fix the indentation or the line above, or quote the text",
    ),
    ("could not find expected ':'", "a key without its ':' stands here or on the line above"),
    ("expected <block end>", "the indentation does not fit the lines above"),
    ("unexpected end of stream", "a text in quotes is not closed"),
    ("expected ',' or", "a bracket is not closed, or a comma is missing"),
    ("expected the node content", "something is missing here, such as a value or a closing bracket"),
    ("<document start>", "a line stands here that belongs to no key"),
    ("unknown escape character", "a '\\' in a text with double quotes can't stand here; use single quotes"),
)
_LINE_END = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_WHOLE = re.compile(r"[-+]?[0-9]+")
_NOT_CLOSED = ("is not closed", "is not closed, or a comma is missing")


@record(frozen=True, slots=True)
class Scalar:
    """A single value as it is written; `plain` if it stands without quotes."""

    place: FilePlace
    text: str
    plain: bool = True
    size = 1
    height = 0

    @property
    def value(self) -> Value:
        """The value by the rules of YAML 1.2; what is quoted is text."""
        return resolve(self.text) if self.plain else self.text

    @property
    def shown(self) -> str:
        """The value as it is named in a problem; "" if nothing is given."""
        return quoted(self.text) if isinstance(self.value, str) else cut(self.text)


@record(frozen=True)
class Items:
    """A list."""

    place: FilePlace
    nodes: tuple[Node, ...]
    shown = "a list"

    @cached_property
    def size(self) -> int:
        """Nodes in it, itself counted, with all aliases written out."""
        return 1 + sum(node.size for node in self.nodes)

    @cached_property
    def height(self) -> int:
        """Levels below it."""
        return 1 + max((node.height for node in self.nodes), default=0)


class KeyEntry(NamedTuple):
    """One key of a table with what it holds; `place` is the key's."""

    place: FilePlace
    node: Node


@record(frozen=True)
class Table:
    """A mapping of keys, which are taken as text, to nodes."""

    place: FilePlace
    entries: Mapping[str, KeyEntry] = field(default_factory=dict)
    shown = "a group of settings"

    @cached_property
    def size(self) -> int:
        """Nodes in it, itself and its keys counted, with all aliases written out."""
        return 1 + sum(1 + entry.node.size for entry in self.entries.values())

    @cached_property
    def height(self) -> int:
        """Levels below it."""
        return 1 + max((entry.node.height for entry in self.entries.values()), default=0)


Node: TypeAlias = Scalar | Items | Table


def values(node: Node, changed: Mapping[KeyPath, Any] | None = None, path: KeyPath = ()) -> Any:
    """The node as None, bool, int, float, str, list and dict; `changed` overrides at its paths."""
    if changed and path in changed:
        return changed[path]
    if isinstance(node, Scalar):
        return node.value
    if isinstance(node, Items):
        return [values(item, changed, (*path, i)) for i, item in enumerate(node.nodes)]
    return {key: values(entry.node, changed, (*path, key)) for key, entry in node.entries.items()}


def overlaid(first: Table, later: Table) -> Table:
    """`later` over `first`: tables key by key, all else as a whole.

    An empty value takes nothing away from a table. A table whose `unit` names another kind replaces
    the earlier one as a whole, since the earlier kind's keys mean nothing to it.
    """
    entries = dict(first.entries)
    for key, entry in later.entries.items():
        old = entries.get(key)
        entries[key] = entry if old is None else entry._replace(node=_over(old.node, entry.node))
    return Table(later.place, entries)


def _over(first: Node, later: Node) -> Node:
    if isinstance(first, Table) and isinstance(later, Scalar) and later.value is None:
        return first
    if isinstance(first, Table) and isinstance(later, Table) and not _another_kind(first, later):
        return overlaid(first, later)
    return later


def _another_kind(first: Table, later: Table) -> bool:
    units = [table.entries["unit"].node for table in (first, later) if "unit" in table.entries]
    texts = {node.text for node in units if isinstance(node, Scalar)}
    return len(texts) > 1


def _goes_on(last: KeyEntry, place: FilePlace, name: Scalar, node: Node) -> bool:
    """Whether a key without a value is what stands behind the comma of a number, as in `{width_mm: 1,75}`."""
    wholes = [part for part in (last.node, name) if isinstance(part, Scalar) and part.plain]
    return (
        len(wholes) == 2
        and all(_WHOLE.fullmatch(part.text) for part in wholes)
        and isinstance(node, Scalar)
        and node.plain
        and not node.text
        and last.node.place.line == place.line
    )


def read_tree(name: str, text: str, problems: list[Problem]) -> Table | None:
    """The text's top table; empty for an empty text.

    What is wrong is added to `problems`; None if the text can't be read as a tree at all.
    """
    try:
        return _TreeReader(name, text, problems).document()
    except _Refused as refused:
        problems.append(refused.problem)
    except yaml.reader.ReaderError as error:
        line, begin = text.count("\n", 0, error.position) + 1, text.rfind("\n", 0, error.position) + 1
        wrong = f"{quoted(chr(error.character))} can't stand in a config; remove it"
        problems.append(Problem(name, line, wrong=wrong, column=error.position - begin + 1))
    except yaml.MarkedYAMLError as error:
        problems.append(_broken(name, error, lines_of(text)))
    return None


def lines_of(text: str) -> list[str]:
    """The text's lines as YAML counts them (YAML 1.1, 4.2), and one more, where what is missing is missed."""
    return [*_LINE_END.split(text), ""]


def place_at(name: str, mark: yaml.Mark, lines: Sequence[str]) -> FilePlace:
    """The place of a mark in the text with these lines."""
    text = lines[mark.line] if mark.line < len(lines) else ""
    return FilePlace(name, mark.line + 1, mark.column + 1, text)


def _broken(name: str, error: yaml.MarkedYAMLError, lines: Sequence[str]) -> Problem:
    mark = error.problem_mark or error.context_mark
    said = f"{error.context or ''} {error.problem or ''}".strip()
    words = next((plain for found, plain in _PLAIN_WORDS if found in said), said)
    begin = error.context_mark
    if begin and mark and begin.line < mark.line and words.endswith(_NOT_CLOSED):
        words += f" (it begins on line {begin.line + 1})"
    place = place_at(name, mark, lines) if mark else FilePlace(name)
    return Problem.at(place, wrong=f"this is not valid YAML: {words}")


class _Refused(Exception):
    """The whole text is refused."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem


class _TreeReader:
    """Builds the tree from PyYAML's events, and stops as soon as it grows too large or too deep."""

    def __init__(self, name: str, text: str, problems: list[Problem]) -> None:
        self._name = name
        self._problems = problems
        self._lines = lines_of(text)
        self._parser = yaml.SafeLoader(text)
        self._anchors: dict[str, Node | None] = {}
        self._count = 0

    def document(self) -> Table:
        """The one document of the text. Raises _Refused or a YAML error."""
        self._next()
        start = self._next()
        if isinstance(start, yaml.StreamEndEvent):
            return Table(FilePlace(self._name, 1))
        node = self._node(self._next(), ())
        self._next()
        end = self._next()
        if not isinstance(end, yaml.StreamEndEvent):
            self._refuse(end, "a second part starts here (---)", "one part a file")
        if isinstance(node, Scalar) and node.value is None:
            return Table(node.place)
        if not isinstance(node, Table):
            self._refuse(start, f"the file holds {node.shown}, no settings", "keys such as machine:")
        return node

    def _next(self) -> Any:
        try:
            return self._parser.get_event()  # type: ignore[no-untyped-call]
        except (ValueError, OverflowError) as error:  # an escape or a directive with an impossible number
            wrong = "this is not valid YAML: a number in it is no character or version"
            raise _Refused(Problem(self._name, self._parser.line + 1, wrong=wrong)) from error

    def _node(self, event: Any, path: KeyPath) -> Node:
        if isinstance(event, yaml.AliasEvent):
            node = self._alias(event, path)
        else:
            self._grow(event, 1, len(path))
            if event.anchor is not None:
                self._anchors[event.anchor] = None
            node = self._fresh(event, path)
            if event.anchor is not None:
                self._anchors[event.anchor] = node
        return node

    def _alias(self, event: Any, path: KeyPath) -> Node:
        if event.anchor not in self._anchors:
            said = f"*{event.anchor} repeats a value, but no &{event.anchor} stands above it"
            self._refuse(event, f"{said}; if it is a text, put it in quotes")
        node = self._anchors[event.anchor]
        if node is None:
            self._refuse(event, f"*{event.anchor} stands inside what it repeats")
        self._grow(event, node.size, len(path) + node.height)
        return node

    def _grow(self, event: Any, nodes: int, depth: int) -> None:
        self._count += nodes
        if self._count > MOST_NODES:
            self._refuse(event, f"the config is too large: more than {MOST_NODES:,} values")
        if depth > DEEPEST:
            self._refuse(event, f"the config is nested too deep: more than {DEEPEST} levels")

    def _fresh(self, event: Any, path: KeyPath) -> Node:
        place = self._place(event)
        tag = self._tag(event, path)
        if isinstance(event, yaml.SequenceStartEvent):
            return Items(place, tuple(self._items(path)))
        if isinstance(event, yaml.MappingStartEvent):
            return Table(place, self._entries(path))
        plain = event.style is None if tag is None else tag != "str"
        return Scalar(place, self._whole(event), plain)

    def _whole(self, event: Any) -> str:
        """The text, with characters that JSON escapes in two halves put together."""
        try:
            return str(event.value).encode("utf-16", "surrogatepass").decode("utf-16")
        except UnicodeDecodeError:
            self._refuse(event, "a text holds half a character (an escape from \\ud800 to \\udfff)")

    def _tag(self, event: Any, path: KeyPath) -> str | None:
        """The core tag's bare name. Any other tag is a problem, and its value is read as if it had none."""
        if event.tag is None:
            return None
        bare = str(event.tag).removeprefix(_CORE)
        if event.tag.startswith(_CORE) and bare in _TAGS[type(event)]:
            return bare
        wrong = f"the tag {quoted(event.tag.replace(_CORE, '!!'))} is refused: only plain values may be here"
        self._add(event, path, wrong, hint="leave the ! out, or put the text in quotes")
        return None

    def _items(self, path: KeyPath) -> Iterator[Node]:
        index = 0
        while not isinstance(event := self._next(), yaml.SequenceEndEvent):
            yield self._node(event, (*path, index))
            index += 1

    def _entries(self, path: KeyPath) -> dict[str, KeyEntry]:
        entries: dict[str, KeyEntry] = {}
        while not isinstance(event := self._next(), yaml.MappingEndEvent):
            name = self._node(event, path) if isinstance(event, _KEYS) else None
            if not isinstance(name, Scalar):
                self._refuse(event, "a list or a group of settings can't be a key", "a single word")
            place = self._place(event)
            here = (*path, name.text)
            node = self._node(self._next(), here)
            last = next(reversed(entries), None)
            if last is not None and _goes_on(entries[last], place, name, node):
                number = f"{entries[last].node.text},{name.text}"  # type: ignore[union-attr]
                wrong = f"{quoted(number)} is not a number"
                self._add(event, (*path, last), wrong, hint=number_hint(number))
            elif name.text in entries:
                first = entries[name.text].place.line
                self._add(event, here, "the key is here twice", hint=f"it already stands on line {first}")
            else:
                entries[name.text] = KeyEntry(place, node)
        return entries

    def _place(self, event: Any) -> FilePlace:
        return place_at(self._name, event.start_mark, self._lines)

    def _add(self, event: Any, path: KeyPath, wrong: str, hint: str = "") -> None:
        self._problems.append(Problem.at(self._place(event), shown_path(path), wrong=wrong, hint=hint))

    def _refuse(self, event: Any, wrong: str, expected: str = "") -> NoReturn:
        raise _Refused(Problem.at(self._place(event), wrong=wrong, expected=expected))
