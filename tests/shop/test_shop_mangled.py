"""Lines of keys in a shop file, and files that are mangled at random."""

from __future__ import annotations

import contextlib
from importlib.resources import files

from hypothesis import given
from hypothesis import strategies as st

from tinbook.errors import BadFile
from tinbook.shop.shop import shop_from
from tinbook.shop.tomlfile import parse_toml


def test_lines_of_keys() -> None:
    doc = parse_toml(
        "x",
        b'a = 1 # b = 2\n[t."x.y"] # c\nlist = [\n  1, # ]\n  2,\n]\nz.q = """\n[no]\nk = 1\n"""\n[[r]]\nn = 1\n[[r]]\nn = 2\n[r.s]\nm = 3\n',
    )
    assert doc.mistakes == []
    assert doc.lines == {
        ("a",): 1,
        ("t", "x.y"): 2,
        ("t", "x.y", "list"): 3,
        ("t", "x.y", "z", "q"): 7,
        ("r", 0): 11,
        ("r", 0, "n"): 12,
        ("r", 1): 13,
        ("r", 1, "n"): 14,
        ("r", 1, "s"): 15,
        ("r", 1, "s", "m"): 16,
    }


@given(st.data())
def test_a_mangled_demo_file_is_refused_or_read_never_a_crash(data: st.DataObject) -> None:
    raw = bytearray(files("tinbook.shop").joinpath("data", "demo_shop.toml").read_bytes()[:6000])
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(raw) - 1))
        raw[at : at + data.draw(st.integers(0, 30))] = data.draw(st.binary(max_size=8))
    doc = parse_toml("mangled.toml", bytes(raw))
    with contextlib.suppress(BadFile):
        assert shop_from(doc).sheets
