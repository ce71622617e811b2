"""Frozen dataclasses that are quick to define do what those of the standard library do."""

import copy
import pickle
from dataclasses import FrozenInstanceError, asdict, dataclass, field, fields, replace
from functools import cached_property
from inspect import signature

import pytest
from fairloaf.trials.frozen import frozen


class _Loaf:
    """A loaf."""

    name: str
    grams: float = 400.0
    marks: list[str] = field(default_factory=list, compare=False)
    note: str = field(default="", repr=False)


def _defined_by(decorator):
    return decorator(type("Loaf", (), dict(vars(_Loaf), __qualname__="Loaf")))


Loaf, Usual = _defined_by(frozen), _defined_by(dataclass(frozen=True, slots=True))


@frozen(kw_only=True, eq=False)
class Tin:
    """A tin."""

    name: str

    def __repr__(self) -> str:
        return "a tin"


@frozen(slots=False)
class Oven:
    """An oven."""

    celsius: float = 230.0

    @cached_property
    def fahrenheit(self) -> float:
        return self.celsius * 9 / 5 + 32


@frozen
class Lidded(Loaf):
    """A loaf under a lid."""

    lid: str = "steel"


def test_said_compared_and_hashed_as_the_standard_librarys():
    ours, theirs = Loaf("A", note="burnt"), Usual("A", note="burnt")
    assert repr(ours) == repr(theirs) == "Loaf(name='A', grams=400.0, marks=[])"
    assert hash(ours) == hash(theirs) == hash(("A", 400.0, "burnt"))
    assert ours == Loaf("A", 400, ["x"], "burnt")
    assert ours != Loaf("B")
    assert ours != theirs
    assert asdict(ours) == asdict(theirs)
    assert [f.name for f in fields(Loaf)] == [f.name for f in fields(Usual)]
    told = str(signature(Usual)).replace("<factory>", "[]")
    assert str(signature(Loaf)) == told


@pytest.mark.parametrize("made", [Loaf, Usual, Lidded], ids=["ours", "usual", "derived"])
def test_a_field_is_filled_in_once(made):
    loaf = made("A")
    for change in (
        lambda: setattr(loaf, "grams", 1.0),
        lambda: setattr(loaf, "name", "A"),
        lambda: delattr(loaf, "name"),
    ):
        with pytest.raises(FrozenInstanceError, match=r"field '(name|grams)'"):
            change()
    with pytest.raises((AttributeError, TypeError)):
        loaf.other = 1
    assert loaf == made("A")
    assert not hasattr(loaf, "__dict__")
    assert loaf.marks is not made("A").marks


@pytest.mark.parametrize(
    "again", [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))]
)
def test_a_copy_is_equal_and_frozen(again):
    lidded = again(Lidded("A", 380.0, ["x"], lid="glass"))
    assert lidded == Lidded("A", 380.0, lid="glass")
    assert lidded.marks == ["x"]
    with pytest.raises(FrozenInstanceError):
        lidded.lid = "steel"
    assert replace(lidded, grams=1.0) == Lidded("A", 1.0, lid="glass")


@pytest.mark.parametrize("made", [Loaf, Usual], ids=["ours", "usual"])
@pytest.mark.parametrize(
    ("placed", "named", "said"),
    [
        ((), {}, "name"),
        (("A",), {"name": "B"}, "multiple values|name"),
        (("A",), {"weight": 1.0}, "weight"),
        (("A", 1.0, [], "", "more"), {}, "positional"),
    ],
)
def test_a_wrong_call_is_told_as_python_tells_it(made, placed, named, said):
    with pytest.raises(TypeError, match=said):
        made(*placed, **named)


def test_what_is_worked_out_once_is_kept_where_there_is_room():
    oven = Oven(220.0)
    assert oven.fahrenheit == oven.fahrenheit == 428.0
    assert vars(oven)["fahrenheit"] == 428.0
    assert oven == Oven(220.0)
    with pytest.raises(FrozenInstanceError):
        oven.celsius = 200.0
    assert Oven().celsius == 230.0
    assert replace(oven, celsius=100.0).fahrenheit == 212.0


def test_by_name_only_and_equal_to_itself_alone():
    tin = Tin(name="open")
    with pytest.raises(TypeError, match="positional"):
        Tin("open")
    with pytest.raises(TypeError, match="name"):
        Tin()
    assert tin == tin
    assert tin != Tin(name="open")
    assert len({tin, Tin(name="open")}) == 2
    assert repr(tin) == "a tin"
