"""The kit's dataclass against the standard library's: one class body, made by both, must behave the same."""

import copy
import dataclasses
import inspect
import pickle

import pytest

from tinbook import values

BODIES = ("Empty", "One", "Several", "Own", "Child")


def made_by(dataclass):
    """Return the same classes made by a decorator."""

    @dataclass(frozen=True, slots=True)
    class Empty:
        """Nothing."""

    @dataclass(frozen=True, slots=True)
    class One:
        """One field."""

        a: float

    @dataclass(frozen=True, slots=True, kw_only=True)
    class Several:
        """Every kind of field."""

        a: float
        b: tuple[float, ...] = (1.0, 2.0)
        c: list[int] = dataclasses.field(default_factory=list, compare=False)
        d: str = dataclasses.field(default="kept out", repr=False)
        e: int = dataclasses.field(init=False)
        f: int = dataclasses.field(init=False, default=3)
        g: dict[str, int] = dataclasses.field(init=False, default_factory=dict, compare=False)

        def __post_init__(self):
            object.__setattr__(self, "e", int(self.a) + 1)

    @dataclass(frozen=True, slots=True, repr=False)
    class Own:  # noqa: PLW1641  the decorator gives the hash
        """Methods of its own."""

        a: float
        b: int = dataclasses.field(default=2, kw_only=True)

        def __eq__(self, other):
            return isinstance(other, Own) and self.b == other.b

        def __repr__(self):
            return "own"

    @dataclass(frozen=True, eq=False)
    class Child(One):
        """A field more, no slots, compared as its parent is."""

        b: object = None

    found = locals()
    for name in BODIES:
        found[name].__qualname__ = name
        found[name].__module__ = dataclass.__module__ + "_of_test"
    return {name: found[name] for name in BODIES}


OURS, THEIRS = made_by(values.dataclass), made_by(dataclasses.dataclass)
ARGUMENTS = {
    "Empty": [((), {})],
    "One": [((1.5,), {}), ((2.5,), {})],
    "Several": [((), {"a": 1}), ((), {"a": 1, "c": [5]}), ((), {"a": 1, "d": "x"}), ((), {"a": 2, "b": ()})],
    "Own": [((1.5,), {}), ((2.5,), {}), ((1.5,), {"b": 7})],
    "Child": [((1.5,), {}), ((1.5,), {"b": [1]}), ((2.5, 1), {})],
}


def refused(call, *args, **kwargs):
    """Return kind and words of what a call raises."""
    with pytest.raises((TypeError, AttributeError)) as info:
        call(*args, **kwargs)
    return info.type, str(info.value)


def pairs(name):
    """Return objects of both, made with the same arguments."""
    return [(OURS[name](*a, **k), THEIRS[name](*a, **k)) for a, k in ARGUMENTS[name]]


@pytest.mark.parametrize("name", BODIES)
def test_one_body_behaves_the_same(name):
    for ours, theirs in pairs(name):
        assert repr(ours) == repr(theirs)
        assert [f.name for f in dataclasses.fields(ours)] == [f.name for f in dataclasses.fields(theirs)]
        for f in dataclasses.fields(ours):
            mine, other = getattr(ours, f.name), getattr(theirs, f.name)
            assert mine is other or mine == other
            assert refused(setattr, ours, f.name, 0) == refused(setattr, theirs, f.name, 0)
            assert refused(delattr, ours, f.name) == refused(delattr, theirs, f.name)
        with pytest.raises((AttributeError, TypeError)):
            ours.unheard_of = 1
    for k, (ours, theirs) in enumerate(pairs(name)):
        for other, as_theirs in pairs(name)[k:]:
            assert (ours == other) is (theirs == as_theirs)
            assert (ours != other) is (theirs != as_theirs)
        assert ours != theirs
        assert ours.__eq__(3) is theirs.__eq__(3)
    assert OURS[name].__match_args__ == THEIRS[name].__match_args__
    assert OURS[name].__annotations__ == THEIRS[name].__annotations__


@pytest.mark.parametrize("name", BODIES)
def test_hash_is_that_of_the_compared_fields(name):
    for ours, theirs in pairs(name):
        assert hash(ours) == hash(theirs)


@pytest.mark.parametrize("name", ["One", "Several", "Own", "Child"])
def test_arguments_are_refused_the_same(name):
    one, other = (inspect.signature(made[name]) for made in (OURS, THEIRS))
    assert list(one.parameters) == list(other.parameters)
    for mine, theirs in zip(one.parameters.values(), other.parameters.values(), strict=True):
        assert (mine.kind, mine.annotation) == (theirs.kind, theirs.annotation)
        assert (mine.default is inspect.Parameter.empty) is (theirs.default is inspect.Parameter.empty)
    for args, kwargs in [((), {}), ((1, 2, 3, 4, 5), {}), ((), {"a": 1, "unheard_of": 2})]:
        assert refused(OURS[name], *args, **kwargs) == refused(THEIRS[name], *args, **kwargs)


@values.dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A value with slots that travels."""

    a: float
    b: list[int] = dataclasses.field(default_factory=list)
    c: "Kept | None" = None


def test_values_travel_and_are_replaced():
    value = Kept(a=1.5, b=[1], c=Kept(a=2.0))
    for again in (pickle.loads(pickle.dumps(value)), copy.copy(value), copy.deepcopy(value)):
        assert again == value
        assert repr(again) == repr(value)
    assert copy.deepcopy(value).b is not value.b
    assert dataclasses.replace(value, a=2) == Kept(a=2, b=[1], c=Kept(a=2.0))
    assert dataclasses.asdict(value) == {"a": 1.5, "b": [1], "c": {"a": 2.0, "b": [], "c": None}}
    assert Kept(a=1).b is not Kept(a=1).b
    match value:
        case Kept(a=a, c=Kept(a=inner)):
            assert (a, inner) == (1.5, 2.0)


def test_one_that_holds_itself_is_shown():
    value = Kept(a=1)
    value.b.append(value)
    assert repr(value) == "Kept(a=1, b=[...], c=None)"


@pytest.mark.parametrize("parent", ["One", "Child"])
def test_frozen_and_open_classes_do_not_mix(parent):
    for made in (OURS, THEIRS):
        for dataclass in (values.dataclass, dataclasses.dataclass):

            @dataclass(frozen=True, slots=True)
            class Longer(made[parent]):
                c: int = 0

            assert Longer(1.0) == Longer(1.0, c=0)
            assert refused(setattr, Longer(1.0), "c", 1)[0] is dataclasses.FrozenInstanceError
            with pytest.raises(TypeError, match="cannot inherit non-frozen dataclass from a frozen one"):
                dataclass(type("Open", (made[parent],), {}))


def test_classes_that_can_be_changed_are_the_standard_library_s():
    @values.dataclass(slots=True)
    class Open:
        a: int = 1

    value = Open()
    value.a = 2
    assert value == Open(2)
    assert Open.__hash__ is None
