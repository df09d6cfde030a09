"""A wish is settled into plain values that nobody can change, or refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typing_extensions import TypeAliasType

from gpost.clay.walls import Stiffness
from gpost.plan import intentions
from gpost.plan.intentions import (
    Bearing,
    Command,
    LayClay,
    MovePause,
    Note,
    Pause,
    Say,
    ScaleFeed,
    Shift,
    Silence,
    Stroke,
)
from gpost.plan.settled import MOST_PARTS, _hints, settled
from gpost.spot import Spot

Of = TypeVar("Of", bound=np.generic)
BEAD = Stroke(((10.0, 10.0), (10.0, 70.0)), 8.0, 4.0, 4.0, 3.0)
STOP = Pause(Spot(5), "look", "why", "Look", lay=LayClay(Spot(5), (BEAD,), 900.0))


@pytest.mark.parametrize(
    "wish",
    [
        STOP,
        ScaleFeed(0, 5, 0.5),
        Note("well"),
        Shift(0, 5, (1, 2, 3)),
        Bearing("well", clay=Stiffness(1, 2, 3)),
    ],
)
def test_plain_wishes_stay_the_same_objects(wish: Any) -> None:
    """So that a step that says which pause it means, means that one."""
    assert settled(wish, {}) is wish


@pytest.mark.parametrize(
    ("wish", "plain"),
    [
        (Command(Spot(5), ["M300", "M117 x"]), Command(Spot(5), ("M300", "M117 x"))),  # type: ignore[arg-type]
        (Say(Spot(np.int64(5)), "x"), Say(Spot(5), "x")),  # type: ignore[arg-type]
        (replace(BEAD, points_mm=np.array([[10, 10], [10, 70]])), BEAD),
        (replace(BEAD, points_mm=[[10.0, 10.0], [10.0, 70.0]]), BEAD),
        (replace(BEAD, clay_ml=np.float32(3)), BEAD),
        (replace(STOP, lay=LayClay(Spot(5), [BEAD], 900)), STOP),  # type: ignore[arg-type]
        (Note("a \ud800 b"), Note("a \\ud800 b")),
    ],
)
def test_lists_and_numpys_numbers_become_plain(wish: Any, plain: Any) -> None:
    """As deep as they lie; half a letter is written out."""
    found = settled(wish, {})
    assert found == plain
    hash(found)  # which no list would allow


@given(st.lists(st.integers(0, 10**6)), st.booleans())
def test_lines_are_a_copy_that_is_locked(lines: list[int], as_array: bool) -> None:
    """Whoever made the list may change it afterwards; nobody can change the copy, nor unlock it."""
    given_lines: Any = np.array(lines, np.int64) if as_array else list(lines)
    found = settled(Silence(given_lines), {}).lines
    given_lines[:] = [0] * len(lines)
    assert found.dtype == np.int64
    assert found.tolist() == lines
    with pytest.raises(ValueError, match="WRITEABLE"):
        found.setflags(write=True)


def test_what_is_named_twice_stays_one() -> None:
    """A pause that a step moves in the same answer is the pause that it wants."""
    pause, known = replace(STOP, prime_ml=np.float64(1)), dict[int, Any]()
    first, moved = settled(pause, known), settled(MovePause(pause, STOP, ""), known)
    assert moved.old is first


class Louder(Say):
    """A step's own kind of message."""


def test_a_kind_of_a_steps_own_is_held_to_the_fields_of_ours() -> None:
    """What it adds is the step's affair."""
    assert settled(Louder(Spot(5), "x"), {}) == Louder(Spot(5), "x")
    with pytest.raises(ValueError, match="wants a Louder whose text is 5; it must be a text"):
        settled(Louder(Spot(5), 5), {})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (replace(STOP, hold_again=1), "whose hold_again is 1; it must be true or false"),
        (replace(STOP, load_ml="much"), "whose load_ml is 'much'; it must be a number or nothing"),
        (replace(STOP, shows_at=5), "whose shows_at is 5; it must be a Spot or nothing"),
        (replace(STOP, reason=None), "whose reason is nothing; it must be a text"),
        (replace(STOP, prime_ml=True), "whose prime_ml is True; it must be a number"),
        (replace(STOP, prime_ml=10**5000), "whose prime_ml is a number so large that nobody can mean it"),
        (Say(Spot(5), 10**5000), "whose text is a very large number; it must be a text"),  # type: ignore[arg-type]
        (
            Shift(0, 5, (1.0, 2.0)),
            "whose by_mm is a thing of the kind tuple; it must be a list, each entry a number",
        ),  # type: ignore[arg-type]
        (ScaleFeed(0, 5, float("inf")), "whose factor is no ordinary number"),
        (ScaleFeed(0, 10**16, 0.5), "whose end_line is a number so large"),
        (ScaleFeed(0, 5, "0.5"), "whose factor is '0.5'; it must be a number"),  # type: ignore[arg-type]
        (Say(Spot(5), "x" * 1001), "whose text is 1,001 characters long; 1,000 are the most"),
        (Note("x" * 1001), "whose text is 1,001 characters long; 1,000 are the most"),
        (Command(Spot(5), ("M300",) * 10_001), "whose codes has more than 10,000 parts"),
        (
            Silence(np.zeros((2, 2), np.int64)),
            "whose lines is a thing of the kind ndarray; it must be a list",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused(wish: Any, said: str) -> None:
    """The sentence names the kind of wish, its field, and what is wrong."""
    with pytest.raises(ValueError, match=said):
        settled(wish, {})


def test_text_that_is_no_text_is_written_out_in_the_plainest_wish() -> None:
    """A byte that was no letter, as file names may hold, can't be stored; other letters stay as they are."""
    assert settled(Say(Spot(5), "vase\udcff"), {}) == Say(Spot(5), "vase\\udcff")
    assert settled(Say(Spot(5), "Gefäß"), {}) == Say(Spot(5), "Gefäß")


def test_what_is_no_record_is_left_for_others_to_refuse() -> None:
    """Also a class, where an object is meant."""
    for thing in ("G28", 5, None, Pause):
        assert settled(thing, {}) is thing


def test_a_wish_may_have_ten_thousand_parts_and_no_more() -> None:
    """So long a list of points can still be meant."""
    points = tuple((float(x), 0.0) for x in range(MOST_PARTS))
    assert settled(replace(BEAD, points_mm=points), {}).points_mm == points
    with pytest.raises(ValueError, match="more than 10,000 parts"):
        settled(replace(BEAD, points_mm=(*points, (0.0, 1.0))), {})


def test_a_kind_may_have_a_name_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """numpy from 2.5 on gives arrays a named kind (a `type` statement), which is none that a value could be of."""
    named = TypeAliasType("named", np.ndarray[Any, np.dtype[Of]], type_params=(Of,))
    monkeypatch.setattr(intentions, "NDArray", named)
    _hints.cache_clear()
    try:
        assert settled(Silence([3, 4]), {}).lines.tolist() == [3, 4]
        with pytest.raises((TypeError, ValueError), match="lines"):
            settled(Silence(7), {})
    finally:
        _hints.cache_clear()
