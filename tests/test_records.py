"""Records are what the standard library makes of the same class: it is asked for each answer."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import pytest

from gpost.common.records import record


@record(frozen=True, slots=True)
class Bead:
    """A record with all kinds of fields."""

    width_mm: float
    clay: str = "white"
    spots: tuple[int, ...] = field(default_factory=tuple)
    note: str = field(default="", compare=False, repr=False)

    @property
    def wide(self) -> bool:
        """Any property."""
        return self.width_mm > 5


@record(frozen=True, slots=True)
class Other:
    """Another with the same fields as the first two."""

    width_mm: float
    clay: str = "white"


@dataclass(frozen=True, slots=True)
class Ring(Bead):
    """One that inherits, which the standard library makes."""

    round: bool = True


GIVEN: tuple[dict[str, Any], ...] = (
    {"width_mm": 4.0},
    {"width_mm": 4.0, "note": "a note"},
    {"width_mm": 4.0, "clay": "blue"},
    {"width_mm": 6.0, "clay": "blue", "spots": (1, 2), "note": "a note"},
)


def _standard() -> Any:
    """The class of the same text, made by the standard library."""
    names = {"__annotations__": Bead.__annotations__, "__qualname__": "Bead", "wide": Bead.wide}
    defaults = {"clay": "white", "spots": field(default_factory=tuple)}
    body = {**names, **defaults, "note": field(default="", compare=False, repr=False)}
    return dataclass(frozen=True, slots=True)(type("Bead", (), body))


@pytest.mark.parametrize("given", GIVEN)
@pytest.mark.parametrize("other", GIVEN)
def test_equal_where_the_standard_library_says_so(given: dict[str, Any], other: dict[str, Any]) -> None:
    """Two records are equal, and have one hash, where those of the standard library are and have."""
    standard = _standard()
    assert (Bead(**given) == Bead(**other)) == (standard(**given) == standard(**other))
    assert (hash(Bead(**given)) == hash(Bead(**other))) == (
        hash(standard(**given)) == hash(standard(**other))
    )


@pytest.mark.parametrize("given", GIVEN)
def test_shown_as_by_the_standard_library(given: dict[str, Any]) -> None:
    """A record is shown as the standard library shows it."""
    assert repr(Bead(**given)) == repr(_standard()(**given))


def test_only_its_own_kind_is_equal() -> None:
    """A record of another kind with the same values is another one."""
    assert Bead(4.0) != Other(4.0)
    assert Bead(4.0) != (4.0, "white", ())
    assert Bead(4.0) != Ring(4.0)
    assert Other(4.0) == Other(4.0)


@pytest.mark.parametrize("made", [Bead(4.0), Ring(4.0)])
@pytest.mark.parametrize("name", ["width_mm", "clay", "spots", "note"])
def test_no_field_can_be_changed(made: Bead, name: str) -> None:
    """No field of a record can be given another value, or be taken away."""
    with pytest.raises(dataclasses.FrozenInstanceError, match=name):
        setattr(made, name, 5.0)
    with pytest.raises(dataclasses.FrozenInstanceError, match=name):
        delattr(made, name)
    assert made == type(made)(4.0)


@pytest.mark.parametrize("name", ["wide", "length_mm"])
def test_nothing_can_be_added(name: str) -> None:
    """A record has its fields alone, and its properties are what they are."""
    with pytest.raises(AttributeError):
        setattr(Bead(4.0), name, 5.0)


@pytest.mark.parametrize(
    "made", [Bead(6.0, "blue", (1,), "a note"), Ring(6.0, "blue", (1,), "a note", False)]
)
def test_copied_and_sent_whole(made: Bead) -> None:
    """A record that is copied, sent to another process or made anew with a change keeps all else."""
    for again in (copy.copy(made), copy.deepcopy(made), pickle.loads(pickle.dumps(made))):
        assert (again, again.note) == (made, "a note")
    changed = dataclasses.replace(made, clay="white")
    assert changed == type(made)(**{**dataclasses.asdict(made), "clay": "white"})
    assert changed.note == "a note"


def test_matched_by_place_and_made_as_written() -> None:
    """A record is matched by place, and refuses values that it has no field for."""
    match Bead(6.0, "blue"):
        case Bead(width_mm, clay):
            assert (width_mm, clay) == (6.0, "blue")
    with pytest.raises(TypeError, match="length_mm"):
        Bead(6.0, length_mm=1)  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="width_mm"):
        Bead()  # type: ignore[call-arg]


@record(slots=True)
class Heap:
    """One that may be changed."""

    clay_ml: float = 0.0
    beads: list[Bead] = field(default_factory=list)


@record(frozen=True)
class Batch:
    """One with its values in a dictionary, as what is reckoned once asks for."""

    water_g: float
    name: str = "porcelain"

    @cached_property
    def twice_g(self) -> float:
        """Reckoned once."""
        return 2 * self.water_g


def test_one_that_may_be_changed() -> None:
    """It takes other values for its fields, and no others; it is equal by them, and has no hash."""
    heap = Heap()
    heap.clay_ml = 2.0
    heap.beads.append(Bead(4.0))
    assert heap == Heap(2.0, [Bead(4.0)]) != Heap(2.0)
    assert repr(heap) == f"Heap(clay_ml=2.0, beads={[Bead(4.0)]!r})"
    with pytest.raises(TypeError, match="unhashable"):
        hash(heap)
    with pytest.raises(AttributeError):
        heap.water_g = 1  # type: ignore[attr-defined]


def test_one_with_a_dictionary_is_frozen() -> None:
    """Neither a field with a default nor one without is changed, nothing is added, and it reckons once."""
    batch = Batch(200.0)
    for name in ("water_g", "name", "twice_g", "salt_g"):
        with pytest.raises(dataclasses.FrozenInstanceError, match=name):
            setattr(batch, name, 1.0)
    assert batch.twice_g == 400.0 == vars(batch)["twice_g"]
    assert batch == Batch(200.0)
    assert {batch, Batch(200.0, "porcelain")} == {Batch(200.0)}
    assert dataclasses.replace(batch, name="slip").twice_g == 400.0
    assert pickle.loads(pickle.dumps(batch)) == batch
