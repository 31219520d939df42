"""Results stay with the value that they were computed from, and with no copy of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tinbook.memo import Memo, Remembers, remembered


@dataclass(frozen=True, slots=True, kw_only=True)
class Square(Remembers):
    side: float


AREA: Memo[float] = Memo("area")
EDGE: Memo[float] = Memo("area")  # of the same name, and still another


def test_a_result_is_computed_once_for_each_value_and_key() -> None:
    asked: list[float] = []

    def area(s: Square, key: str = "") -> float:
        return AREA.of(s, lambda: asked.append(s.side) or s.side**2, key)

    one = Square(side=3)
    assert (area(one), area(one), area(one, "again")) == (9, 9, 9)
    assert asked == [3, 3]
    wide = replace(one, side=4)
    assert area(wide) == 16
    assert AREA.known(replace(wide)) is None


def test_two_memos_never_share_and_results_take_no_part_in_comparing() -> None:
    one, other = Square(side=3), Square(side=3)
    AREA.put(one, 9)
    assert EDGE.known(one) is None
    assert AREA.known(one) == 9
    assert one == other
    assert hash(one) == hash(other)
    assert repr(one) == "Square(side=3)"


def test_a_value_without_an_equality_of_its_own_equals_itself_only() -> None:
    """Such values are keys of caches: a part must not be given what was counted for another."""

    @dataclass(frozen=True, eq=False)
    class Machine(Remembers):
        name: str

    one, other = Machine("brake"), Machine("folder")
    assert one != other
    assert len({one, other, Machine("brake")}) == 3
    assert one in {one}


def test_a_remembered_function_computes_once_for_each_value_and_arguments() -> None:
    asked: list[tuple[float, int]] = []

    @remembered
    def times(s: Square, n: int) -> float:
        """Return a multiple of the side."""
        asked.append((s.side, n))
        return s.side * n

    one = Square(side=3)
    assert (times(one, 2), times(one, 2), times(one, 4)) == (6, 6, 12)
    assert times(replace(one, side=5), 2) == 10
    assert asked == [(3, 2), (3, 4), (5, 2)]
    assert times.__doc__ == "Return a multiple of the side."
