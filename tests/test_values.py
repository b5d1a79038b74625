"""Frozen values behave as the standard library's dataclasses do."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

WAYS = {"frozen": True, "slots": True, "kw_only": True}


@dataclass(**WAYS)
class Ours:
    a: int
    b: tuple[int, ...] = ()
    c: list[int] = dataclasses.field(default_factory=list)


@dataclasses.dataclass(**WAYS)
class Theirs:
    a: int
    b: tuple[int, ...] = ()
    c: list[int] = dataclasses.field(default_factory=list)


@dataclass(**WAYS)
class Heir(Ours):
    d: str = "d"


@dataclass(**WAYS, eq=False)
class Single:
    a: int


@given(st.integers(), st.lists(st.integers()).map(tuple), st.integers(), st.lists(st.integers()).map(tuple))
def test_they_compare_show_and_hash_alike(a, b, other_a, other_b):
    ours, theirs = Ours(a=a, b=b), Theirs(a=a, b=b)
    assert repr(ours) == repr(theirs).replace("Theirs", "Ours")
    assert (ours == Ours(a=other_a, b=other_b)) == (theirs == Theirs(a=other_a, b=other_b))
    assert dataclasses.asdict(ours) == dataclasses.asdict(theirs)
    assert dataclasses.replace(ours, a=other_a) == Ours(a=other_a, b=b)


def test_no_field_is_written_again_or_deleted_and_none_is_added():
    ours = Ours(a=1)
    with pytest.raises(dataclasses.FrozenInstanceError, match="'a'"):
        ours.a = 2
    with pytest.raises(dataclasses.FrozenInstanceError, match="'b'"):
        del ours.b
    with pytest.raises(AttributeError):
        ours.z = 1
    assert ours == Ours(a=1)


def test_values_of_other_classes_differ_and_identity_stays_where_it_is_asked_for():
    assert Ours(a=1) != Theirs(a=1)
    assert Ours(a=1) != Heir(a=1)
    assert Heir(a=1, d="e") == Heir(a=1, d="e")
    assert Single(a=1) != Single(a=1)
    assert hash(Single(a=1)) is not None


def test_they_are_hashed_by_their_fields():
    @dataclass(**WAYS)
    class Key:
        a: int

    assert {Key(a=1): "x"}[Key(a=1)] == "x"
    with pytest.raises(TypeError):
        hash(Ours(a=1))  # it holds a list


def test_what_is_not_frozen_can_change_and_cannot_be_a_key():
    @dataclass(slots=True)
    class Walk:
        at: int = 0

    walk = Walk()
    walk.at = 3
    assert walk == Walk(at=3)
    with pytest.raises(TypeError, match="unhashable"):
        hash(walk)


def test_they_can_be_copied_and_pickled():
    ours = Ours(a=1, b=(2,), c=[3])
    assert copy.copy(ours) == copy.deepcopy(ours) == ours
    assert pickle.loads(pickle.dumps(ours)) == ours  # noqa: S301  # made here


def test_a_wrong_word_is_refused():
    with pytest.raises(TypeError, match="unexpected keyword"):
        Ours(a=1, z=2)
    with pytest.raises(TypeError, match="missing 'a'"):
        Ours()
    with pytest.raises(TypeError, match="unexpected keyword"):
        replace(Ours(a=1), z=2)


def test_values_by_place_are_taken_in_order_and_none_twice():
    @dataclass(frozen=True, slots=True)
    class Pair:
        a: int
        b: int = 2

    assert (Pair(1), Pair(1, b=3), Pair(1, 3)) == (Pair(a=1, b=2), Pair(a=1, b=3), Pair(a=1, b=3))
    for wrong in (lambda: Pair(1, 2, 3), lambda: Pair(1, a=1)):
        with pytest.raises(TypeError, match="too many values"):
            wrong()


def test_the_standard_library_knows_their_fields():
    ours, theirs = (
        [(field.name, field.type, field.default) for field in dataclasses.fields(kind)]
        for kind in (Ours, Theirs)
    )
    assert ours == theirs
    assert [one.name for one in dataclasses.fields(Heir(a=1))] == ["a", "b", "c", "d"]
    assert dataclasses.replace(Heir(a=1), d="e") == replace(Heir(a=1), d="e") == Heir(a=1, d="e")


def test_what_a_class_writes_itself_is_kept():
    @dataclass(**WAYS)
    class Loud:
        a: int

        def __repr__(self):
            return "LOUD"

        def __post_init__(self):
            if self.a < 0:
                raise ValueError("negative")

    assert repr(Loud(a=1)) == "LOUD"
    with pytest.raises(ValueError, match="negative"):
        replace(Loud(a=1), a=-1)


def test_a_field_may_state_a_factory_and_nothing_else():
    with pytest.raises(TypeError, match="only the default's factory"):

        @dataclass(**WAYS)
        class Odd:
            a: int = dataclasses.field(default=1)


def test_without_slots_the_standard_library_is_the_place():
    with pytest.raises(TypeError, match=r"dataclasses\.dataclass"):
        dataclass(frozen=True, slots=False)
