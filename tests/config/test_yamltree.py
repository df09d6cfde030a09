"""YAML text becomes a small plain tree that knows its lines, or is refused with a sentence."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.problem import Problem
from gpost.config.yamltree import Table, overlaid, read_tree, values
from tests.config_files import by_line


def tree(text: str) -> Table:
    """The tree of a text that holds no problem."""
    problems: list[Problem] = []
    found = read_tree("f.yaml", text, problems)
    assert problems == []
    assert found is not None
    return found


def refusal(text: str) -> str:
    """The one problem of a text that can't be read at all."""
    problems: list[Problem] = []
    assert read_tree("f.yaml", text, problems) is None
    [problem] = problems
    return by_line(str(problem))


@pytest.mark.parametrize("text", ["", "# only a comment\n", "---\n", "~", "\ufeff"])
def test_a_text_without_content_is_an_empty_table(text: str) -> None:
    """A config may be empty."""
    assert values(tree(text)) == {}


def test_every_key_and_value_knows_its_line() -> None:
    """Lines count from 1, comments and blank lines included."""
    found = tree("# studio\n\nmachine:\n  beep:\n  - M300\n")
    machine = found.entries["machine"]
    assert isinstance(machine.node, Table)
    beep = machine.node.entries["beep"]
    assert (machine.place.line, beep.place.line, beep.node.place.line) == (3, 4, 5)


def test_keys_are_text_as_written() -> None:
    """A key such as `on` or `12` is the word that was written, whatever it could mean as a value."""
    assert values(tree("on: M106\nyes: 1\n12: 2\n~: 3")) == {"on": "M106", "yes": 1, "12": 2, "~": 3}


def test_quotes_and_the_text_tag_make_text() -> None:
    """What is quoted, folded or tagged as text is never a number."""
    assert values(tree("a: '12'\nb: !!str 12\nc: |\n  12\nd: 12")) == {
        "a": "12",
        "b": "12",
        "c": "12\n",
        "d": 12,
    }


def test_an_alias_repeats_its_anchor() -> None:
    """Anchors and aliases are plain repetition."""
    assert values(tree("a: &bed {x: 1}\nb: *bed")) == {"a": {"x": 1}, "b": {"x": 1}}


@pytest.mark.parametrize(
    ("text", "line", "part"),
    [
        ("a: [1, 2\n", 2, "a bracket is not closed"),
        ("a: [", 1, "something is missing here"),
        ("a:\n\t- b", 2, "a tab"),
        ("a: b: c", 1, "a ':' can't stand here"),
        ("a: 'b", 1, "a text in quotes is not closed"),
        ("a:\n  b: 1\n c: 2", 3, "the indentation does not fit"),
        ("a: 1\nb\nc: 2", 3, "a key without its ':'"),
        ("a: 1\n...\nb", 3, "a line stands here that belongs to no key"),
        ('a: "\\q"', 1, "use single quotes"),
        ('a: "\\UFFFFFFFF"', 1, "no character"),
        ('a: "\\ud800"', 1, "half a character"),
        ("a: 1\nb: \x00", 2, '"\\x00" can\'t stand in a config'),
        ("a: \x1b[2J", 1, '"\\x1b" can\'t stand in a config'),
        ("- a", 1, "the file holds a list, no settings"),
        ("only words", 1, 'the file holds "only words", no settings'),
        ("a: 1\n---\nb: 1", 2, "one part a file"),
        ("[a, b]: 1", 1, "can't be a key"),
        ("? " * 500_000, 1, "can't be a key"),
        ("a: &b [1]\n*b : 2", 2, "can't be a key"),
        ("a: *b", 1, "no &b stands above it"),
        ("a: &b [*b]", 1, "stands inside what it repeats"),
        ("%YAML " + "1" * 5000 + ".1\n---\na: 1", 1, "this is not valid YAML"),
    ],
)
def test_a_text_that_is_no_tree_is_refused_with_its_line(text: str, line: int, part: str) -> None:
    """A text that can't be read is one sentence with file and line."""
    said = refusal(text)
    assert said.startswith(f"f.yaml:{line}: ")
    assert part in said


@pytest.mark.parametrize(
    ("text", "problems"),
    [
        (
            "a: {unit: filament, width_mm: 1,75}",
            ['a.width_mm: "1,75" is not a number; write a point, not a comma: 1.75'],
        ),
        (
            "a: {width_mm: 12, 5, b: 3}",
            ['a.width_mm: "12,5" is not a number; write a point, not a comma: 12.5'],
        ),
        (
            "p: {x_mm: 10,5, y_mm: -20,5}",
            [
                'p.x_mm: "10,5" is not a number; write a point, not a comma: 10.5',
                'p.y_mm: "-20,5" is not a number; write a point, not a comma: -20.5',
            ],
        ),
        (
            "c: {volume_ml: 2,000}",
            [
                'c.volume_ml: "2,000" is not a number; write it without a comma: 2000, or 2.000 if that is meant'
            ],
        ),
        (
            "s: [{purge: {volume_ml: 1,5}}]",
            ['s[1].purge.volume_ml: "1,5" is not a number; write a point, not a comma: 1.5'],
        ),
        ("a: {b: 1, 75: 2}", []),
        ("a: {b: x, 75: }", []),
        ("a: {b: '1', 75: }", []),
        ("a: [1,75]", []),
    ],
)
def test_a_comma_in_a_number_within_braces(text: str, problems: list[str]) -> None:
    """YAML takes what stands behind it for a key; the potter meant a number, and is told how to write it."""
    found: list[Problem] = []
    read_tree("f.yaml", text, found)
    assert [by_line(str(problem)) for problem in found] == [f"f.yaml:1: {problem}" for problem in problems]


def test_a_key_given_twice_names_both_lines() -> None:
    """A repeated key is a problem, and the rest is still read."""
    problems: list[Problem] = []
    found = read_tree("f.yaml", "machine:\n  ceiling_mm: 1\n  ceiling_mm: 2\nb: 3", problems)
    assert [by_line(str(p)) for p in problems] == [
        "f.yaml:3: machine.ceiling_mm: the key is here twice; it already stands on line 2"
    ]
    assert found is not None
    assert values(found)["b"] == 3


@pytest.mark.parametrize(
    "tag",
    [
        "!!python/name:os.system",
        "!!python/object/apply:os.system",
        "!!binary",
        "!!set",
        "!!map",
        "!mine",
        "!",
        "!<x>",
    ],
)
def test_every_tag_but_the_plain_ones_is_refused(tag: str) -> None:
    """A tag never builds anything; the value below it is read as if it had none."""
    problems: list[Problem] = []
    found = read_tree("f.yaml", f"a: 1\nb: {tag} 'ls'", problems)
    [problem] = problems
    assert by_line(str(problem)).startswith(
        f'f.yaml:2: b: the tag "{tag.strip("<>") if tag != "!<x>" else "x"}" is refused'
    )
    assert found is not None
    assert values(found) == {"a": 1, "b": "ls"}


def bomb(levels: int) -> str:
    """A text of a few lines that stands for 9 to the power of `levels` values."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, levels)]
    return "\n".join(lines)


def test_a_bomb_of_aliases_is_refused_where_it_grows_too_large() -> None:
    """Values are counted as if every alias were written out."""
    assert refusal(bomb(50)) == "f.yaml:5: the config is too large: more than 10,000 values"


def test_a_chain_of_aliases_can_not_hide_depth() -> None:
    """Depth is counted through aliases."""
    chain = "\n".join(["a0: &a0 [x]"] + [f"a{i}: &a{i} [*a{i - 1}]" for i in range(1, 60)])
    assert "nested too deep: more than 30 levels" in refusal(chain)


@pytest.mark.parametrize("text", ["a: " + "[" * 500_000, "- " * 500_000, "a: " + "{a: " * 200_000])
def test_deep_nesting_is_refused(text: str) -> None:
    """Nesting stops at 30 levels, whatever it is made of, long before Python's own limit."""
    assert "nested too deep: more than 30 levels" in refusal(text)


def test_thirty_levels_are_allowed() -> None:
    """The limit itself is inside the limit."""
    text = "a: " + "[" * 29 + "x" + "]" * 29
    assert tree(text).height == 30
    assert "nested too deep" in refusal("a: [" + text[3:] + "]")


def test_too_many_values_are_refused() -> None:
    """A config of more than 10,000 values is no config."""
    assert "more than 10,000 values" in refusal("a:\n" + "- x\n" * 10_001)


PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-1000, 1000) | st.text("abc", max_size=3),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text("abc", max_size=2), inner, max_size=3)
    ),
    max_leaves=8,
)
TABLES = st.dictionaries(st.sampled_from("abcd"), PLAIN, max_size=4)


def as_table(data: dict[str, object]) -> Table:
    """The data as a tree, by way of YAML text in flow style."""
    return tree(json.dumps(data))


@given(TABLES)
def test_a_tree_gives_back_what_was_written(data: dict[str, object]) -> None:
    """JSON is YAML: what Python's json writes is read as it was."""
    assert values(as_table(data)) == data


@given(TABLES, TABLES)
def test_what_only_one_file_says_stays_and_the_later_one_wins(
    first: dict[str, object], later: dict[str, object]
) -> None:
    """Laid over each other, each key comes from the later file that has it, tables key by key."""

    def expected(one: dict[str, object], two: dict[str, object]) -> dict[str, object]:
        both = dict(one)
        for key, value in two.items():
            old = both.get(key)
            if isinstance(old, dict) and isinstance(value, dict):
                both[key] = expected(old, value)
            elif not (isinstance(old, dict) and value is None):
                both[key] = value
        return both

    assert values(overlaid(as_table(first), as_table(later))) == expected(first, later)


def test_another_unit_replaces_the_whole_table() -> None:
    """The keys of one way to meter clay mean nothing to another way."""
    first = tree("metering: {unit: filament, diameter_mm: 1.75}")
    later = tree("metering: {unit: ml, ml_per_unit: 0.01}")
    same = tree("metering: {unit: filament, diameter_mm: 3}")
    assert values(overlaid(first, later)) == {"metering": {"unit": "ml", "ml_per_unit": 0.01}}
    assert values(overlaid(first, same)) == {"metering": {"unit": "filament", "diameter_mm": 3}}
