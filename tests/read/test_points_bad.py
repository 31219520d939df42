"""Bad measured files: every mistake named with its line and column, nothing guessed, nothing else than our errors."""

from __future__ import annotations

import math
import random

import floor_opening
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tinbook.errors import BadFile, BadValue, TinbookError
from tinbook.read.points import read_outline
from tinbook.read.rows import read_rows

GOOD = floor_opening.text()
HEAD = "edge,x,y,z\n"
SQUARE = "".join(
    f"{name},{x},{y},0\n"
    for name, pts in {
        "a": [(10, 0), (50, 0), (90, 0)],
        "b": [(100, 10), (100, 50), (100, 90)],
        "c": [(90, 100), (50, 100), (10, 100)],
        "d": [(0, 90), (0, 50), (0, 10)],
    }.items()
    for x, y in pts
)


@pytest.fixture
def read(tmp_path):
    """Write text or bytes to a file and read it as an outline."""

    def run(content, **options):
        file = tmp_path / "points.csv"
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_outline(file, **options)

    return run


def mistakes(read, content, **options):
    with pytest.raises(BadFile) as caught:
        read(content, **options)
    return [(m.where, m.what) for m in caught.value.mistakes]


# What is good in spite of its dress.


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "cp1252", "utf-16"])
def test_usual_encodings_are_read(read, encoding):
    text = "# Schwellerlänge über alles\n" + HEAD + SQUARE.replace("a,", "Tür,")
    assert read(text.encode(encoding)).names == ("Tür", "b", "c", "d")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_blank_lines_comments_and_blanks_do_not_matter(read, end):
    text = f"\n  # a comment, with a comma\n{HEAD}\n{SQUARE}\n# end\n".replace(",", " , ").replace("\n", end)
    assert read(text).area == pytest.approx(10_000)


def test_columns_in_any_order_with_others_between(read):
    rows = [r.split(",") for r in SQUARE.split()]
    text = "point,Z,EDGE,note,y,X\n" + "".join(f"{i},{z},{e},ok,{y},{x}\n" for i, (e, x, y, z) in enumerate(rows))
    assert read(text).area == pytest.approx(10_000)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_commas_when_asked_for(read, delimiter):
    text = (HEAD + SQUARE.replace(",0\n", ",0.0\n")).replace(",", delimiter).replace(".", ",")
    assert read(text, decimal=",").area == pytest.approx(10_000)
    assert read(text, decimal=",", delimiter=delimiter).area == pytest.approx(10_000)


def test_quoted_cells(read):
    assert read(HEAD + SQUARE.replace("a,", '"a",')).names == ("a", "b", "c", "d")


# What is bad.


def test_every_wrong_row_is_reported_at_once(read):
    text = HEAD + "a,1,2\n" + SQUARE + "b,1,x,3\n;\nc,nan,1e999,\n<d>,1,2,3\n"
    found = mistakes(read, text)
    assert [w for w, _ in found] == [
        "line 2",
        "line 15, column y",
        "line 16",
        "line 17, column x",
        "line 17, column y",
        "line 17, column z",
        "line 18, column edge",
    ]
    assert "3 cells where the line of column names has 4" in found[0][1]
    assert "'x' is not a number" in found[1][1]
    assert "finite" in found[3][1]
    assert "finite" in found[4][1]
    assert "empty" in found[5][1]
    assert "letters, digits" in found[6][1]


@pytest.mark.parametrize(
    ("content", "options", "where", "what"),
    [
        (b"", {}, "file", "holds no rows"),
        ("# only this\n", {}, "file", "holds no rows"),
        (HEAD, {}, "file", "no points"),
        ("a,1,2,3\n", {}, "line 1", "column 'edge' is missing"),
        ("edge,x,y\na,1,2\n", {}, "line 1", "column 'z' (0 throughout if all was measured on a flat table)"),
        ("edge,x,x,y,z\n", {}, "line 1", "column 'x' is named 2 times"),
        (HEAD + "a,1,2,3\n", {}, "column edge", "1 edge named"),
        (HEAD + "a,1,2,3\nb,1,2,3\n", {}, "line 2", "one point only"),
        (HEAD + "a,1,2,3\na,1,2,3\nb,9,9,9\nb,1,1,1\n", {}, "line 2", "one point only"),
        (HEAD + SQUARE.replace("50,0,0", "50,5,0,0"), {}, "line 3", "commas as decimal marks?"),
        (
            (HEAD + SQUARE).replace(",", ";").replace("50;0;0", "50,5;0;0"),
            {},
            "line 3, column x",
            "write 50.5, or pass",
        ),
        (
            (HEAD + SQUARE).replace(",", ";").replace("50;0;0", "50.5;0;0"),
            {"decimal": ","},
            "line 3, column x",
            "point",
        ),
        (HEAD + SQUARE, {"decimal": ","}, "line 1", "is split by commas"),
        (HEAD + SQUARE.replace("50,0,0", "50 mm,0,0"), {}, "line 3, column x", "no unit"),
        (HEAD + SQUARE.replace("50,0,0", "5_0,0,0"), {}, "line 3, column x", "not a number"),
        (HEAD + SQUARE.replace("50,0,0", "٥٠,0,0"), {}, "line 3, column x", "not a number"),
        (HEAD + SQUARE.replace("50,0,0", "inf,0,0"), {}, "line 3, column x", "finite"),
        (HEAD + SQUARE.replace("50,0,0", '"50,0,0'), {}, "line 3, column x", "not a number"),
        (HEAD + SQUARE.replace(",", " "), {}, "line 2", "1 cells where"),
        (HEAD + SQUARE.replace("a,", "../a,"), {}, "line 2, column edge", "letters, digits"),
        (HEAD + SQUARE.replace("a,50,0,0\n", "a,50,0,0\nb,60,0,0\n"), {}, "line 5", "edge 'a' begins again"),
        (
            HEAD + "".join(f"{n},{x},{2 * x},{x}\n" for n, x in zip("aabb", (0, 50, 100, 150), strict=True)),
            {},
            "columns",
            "one line",
        ),
        (HEAD + SQUARE.replace("50,0,0", "1e308,-1e308,0"), {"unit": "m"}, "columns x, y, z", "span inf mm across"),
        (HEAD + SQUARE, {"unit": "um"}, "columns x, y, z", "span 0.1 mm across"),
        (HEAD + SQUARE, {"unit": "m"}, "columns x, y, z", "span 1e+05 mm across"),
        (HEAD + SQUARE, {"up": (1, 0, 0)}, "columns x, y, z", "tilted by 90 degrees against up"),
        (b"edge,x,y,z\n\0\0", {}, "file", "zero bytes"),
        (b"\xff\xfe\x00", {}, "file", "no readable text"),
    ],
)
def test_bad_files(read, content, options, where, what):
    found = mistakes(read, content, **options)
    assert found[0][0].startswith(where)
    assert what in found[0][1]


def test_wrong_unit_names_the_right_one(read):
    metres = HEAD + "".join(
        f"{e},{float(x) / 100},{float(y) / 100},0\n" for e, x, y, _ in (r.split(",") for r in SQUARE.split())
    )
    ((_, what),) = mistakes(read, metres)
    assert "in m they would span 0.9 m" in what or "in m they would span 1 m" in what
    assert read(metres, unit="m").area == pytest.approx(1e6)


def test_a_point_off_its_edge_is_named_and_not_dropped(read):
    ((where, what),) = mistakes(
        read, HEAD + SQUARE.replace("b,100,50", "b,109,50").replace("b,100,90", "b,100,70,0\nb,100,90")
    )
    assert where == "line 6"
    assert "lies 9.00 mm off edge 'b', whose other points hold within 0.00 mm" in what


def test_a_row_on_the_wrong_edge_is_named(read):
    ((where, what),) = mistakes(read, HEAD + SQUARE.replace("a,90,0,0\n", "a,90,0,0\na,140,0,0\n"))
    assert where == "line 5"
    assert "lies 40.0 mm beyond the corner of edges 'a' and 'b'" in what


def test_rows_that_run_backwards_are_named(read):
    found = mistakes(
        read, HEAD + SQUARE.replace("b,100,10", "b,100,9x").replace("b,100,90", "b,100,10").replace("9x", "90")
    )
    assert found[0][0] == "line 5"
    assert "edge 'b' run backwards" in found[0][1]


def test_edges_that_do_not_meet_are_named(read):
    # Two parallel edges follow each other.
    rows = SQUARE.replace("b,", "q,").replace("c,", "b,").replace("q,", "c,").split()
    order = [r for k in "abcd" for r in rows if r.startswith(k)]
    found = mistakes(read, HEAD + "\n".join(order))
    assert any("does not meet" in what or "backwards" in what for _, what in found)
    with pytest.raises(BadFile, match=r"edge 'a' does not meet edge 'b': they pass each other 5.00 mm apart"):
        floor_opening.outline_of(
            {
                "a": [(0, 0, 0), (50, 0, 0), (100, 0, 0)],
                "b": [(110, 5, 0), (150, 5, 0), (200, 5, 0)],
                "c": [(200, 20, 0), (200, 60, 0), (200, 100, 0)],
                "d": [(190, 110, 0), (100, 60, 0), (10, 10, 0)],
            }
        )


def test_an_outline_that_crosses_itself_is_refused():
    bow = {
        "a": [(0, 10, 0), (50, 50, 0), (100, 90, 0)],
        "b": [(100, 80, 0), (100, 50, 0), (100, 20, 0)],
        "c": [(100, 10, 0), (50, 50, 0), (0, 90, 0)],
        "d": [(0, 80, 0), (0, 50, 0), (0, 20, 0)],
    }
    with pytest.raises(BadFile, match="neither crosses nor touches"):
        floor_opening.outline_of(bow)


def test_a_long_list_of_mistakes_is_counted(read):
    found = mistakes(read, HEAD + "a,x,1,2\n" * 5000)
    assert len(found) == 101
    assert found[-1] == ("and", "4900 more")


def test_missing_file_folder_and_odd_paths(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path, "a\0b", "", "x" * 5000, "/dev/zero"):
        with pytest.raises(BadFile, match=r"cannot be read|does not exist|is a folder|is a device") as refused:
            read_outline(path)
        assert str(refused.value).count("nothing was used") == 1


def test_a_file_too_large_is_refused_before_it_is_read(read, monkeypatch):
    monkeypatch.setattr("tinbook.read.rows.LARGEST", 100)
    assert "at most" in mistakes(read, GOOD)[0][1]


@pytest.mark.parametrize(
    ("options", "field"),
    [
        ({"tol": 0}, "tol"),
        ({"tol": "0,5 mm"}, "tol"),
        ({"tol": math.nan}, "tol"),
        ({"tol": "5 m"}, "tol"),
        ({"unit": " "}, "unit"),
        ({"unit": "kg"}, "unit"),
        ({"unit": "furry"}, "unit"),
        ({"unit": 25.4}, "unit"),
        ({"up": (0, 0, 0)}, "up"),
        ({"up": "z"}, "up"),
        ({"up": (0, math.nan, 1)}, "up"),
        ({"delimiter": "|"}, "delimiter"),
        ({"decimal": "'"}, "decimal"),
        ({"decimal": ",", "delimiter": ","}, "decimal"),
    ],
)
def test_bad_options_are_named(read, options, field):
    with pytest.raises(BadValue) as caught:
        read(GOOD, **options)
    assert caught.value.field == field


@pytest.mark.parametrize(
    "points",
    [
        {},
        {"a": []},
        {"a": [(1, 2)]},
        {"a": [(1, 2, math.nan)]},
        {"<a>": [(1, 2, 3)]},
        {"a": [(0, 0, 0)], "b": [(1, 1, 1)]},
    ],
)
def test_bad_points_of_an_edge(points):
    with pytest.raises(TinbookError):
        floor_opening.outline_of(points)


# Anything at all may come in; only our errors may come out.


@settings(max_examples=500)
@given(content=st.binary(max_size=400))
def test_random_bytes(content, tmp_path_factory):
    file = tmp_path_factory.getbasetemp() / "random.csv"
    file.write_bytes(content)
    with pytest.raises(TinbookError):
        read_outline(file)


@settings(max_examples=500)
@given(seed=st.integers(0, 2**32 - 1), hits=st.integers(1, 6))
def test_good_file_with_bytes_changed_dropped_doubled_and_swapped(seed, hits, tmp_path_factory):
    rng = random.Random(seed)
    data = bytearray(GOOD.encode())
    for _ in range(hits):
        i = rng.randrange(len(data))
        kind = rng.randrange(5)
        if kind == 0:
            data[i] = rng.randrange(256)
        elif kind == 1:
            data[i] = rng.choice(b'0123456789.,;-eE"#\n \tnaif')
        elif kind == 2:
            del data[i : i + rng.randrange(1, 60)]
        elif kind == 3:
            data[i:i] = data[i : i + rng.randrange(1, 60)]
        else:
            lines = bytes(data).split(b"\n")
            a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
            lines[a], lines[b] = lines[b], lines[a]
            data = bytearray(b"\n".join(lines))
    file = tmp_path_factory.getbasetemp() / "mutated.csv"
    file.write_bytes(bytes(data))
    try:
        o = read_outline(file)
    except TinbookError:
        return
    # What is still taken is a whole outline near the tolerance it states.
    assert o.area > 0
    assert np.isfinite([v for p in o.loop.points for v in p]).all()
    assert all(abs(e.worst) <= 1.0 for e in o.fit.edges)


@settings(max_examples=300)
@given(
    st.lists(st.tuples(st.sampled_from("abcd"), *[st.integers(-300, 300).map(float)] * 3), min_size=1, max_size=24),
    st.floats(0.01, 200),
)
def test_random_points_never_break_the_fit(rows, tol):
    points: dict[str, list[tuple[float, float, float]]] = {}
    for name, *p in rows:
        points.setdefault(name, []).append(tuple(p))
    try:
        o = floor_opening.outline_of(points, tol=tol)
    except TinbookError:
        return
    assert o.area > 0
    assert o.fit.out_of_flat >= 0


def test_rows_keep_their_lines(tmp_path):
    file = tmp_path / "p.csv"
    file.write_text("# one\n\n" + HEAD + "a,1,2,3\n\n#x\nb,4,5,6\n")
    rows = read_rows(file)
    assert rows.lines == (4, 7)
    assert rows.edges == ("a", "b")
    assert rows.xyz.tolist() == [[1, 2, 3], [4, 5, 6]]
