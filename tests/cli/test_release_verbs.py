"""release, verify, compare on the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.__main__ import main


def told(capsys: pytest.CaptureFixture[str], code: int, *words: object) -> dict[str, Any]:
    assert main([*map(str, words), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_a_job_is_released_verified_and_compared(
    tmp_path: Path, static: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100)).hole((50, 50), 9)
    job = tb.job.write_job(tb.Job(number="Q41", items=[tb.job.Item(thing=plate, quantity=3)]), tmp_path)
    found = told(capsys, 0, "release", job, "A", "--out", tmp_path, "--effort", 0)
    (pack,) = map(Path, found["files"])
    assert pack == tmp_path / "Q41_A.zip"
    assert {f["code"] for f in found["findings"]} == {
        "file.blank",
        "file.solid",
        "proof.unfolded",
        "proof.layout",
        "proof.paper",
    }
    assert told(capsys, 0, "verify", pack)["facts"]["sha256"] == found["facts"]["sha256"]
    assert main(["release", str(job), "A", "--out", str(tmp_path), "--effort", "0"]) == 2
    assert "already" in capsys.readouterr().err
    store = tmp_path / "stock.db"
    assert main(["stock", str(store), "--receive", "DC01 1.5", "2000", "1000", "1"]) == 0
    capsys.readouterr()
    second = told(capsys, 0, "release", job, "B", "--out", tmp_path, "--effort", 0, "--stock", store)["files"][0]
    assert told(capsys, 0, "verify", second, "--stock", store)["findings"] == []
    sent = told(capsys, 0, "sent", store, "--release", "Q41", "B", "--to", "A. Miller", "--day", "2027-03-02")["facts"][
        "sent"
    ]
    assert [(s["number"], s["rev"], s["to"]) for s in sent] == [("Q41", "B", "A. Miller")]
    assert main(["sent", str(store), "--release", "Q41", "C", "--to", "A. Miller"]) == 2
    assert main(["sent", str(store), "--release", "Q41", "B"]) == 2
    capsys.readouterr()
    assert "no record" in told(capsys, 1, "verify", pack, "--stock", store)["findings"][0]["what"]
    Path(second).unlink()
    assert main(["release", str(job), "B", "--out", str(tmp_path), "--effort", "0", "--stock", str(store)]) == 2
    assert "knows this release" in capsys.readouterr().err
    bad = tmp_path / "bad.zip"
    bad.write_bytes(pack.read_bytes()[:-7])
    assert told(capsys, 1, "verify", bad)["findings"][0]["code"] == "release.altered"
    assert told(capsys, 0, "compare", pack, pack)["facts"]["same"]
    old, new = (
        tb.write_part(p, tmp_path / f"{n}.toml") for n, p in (("old", plate), ("new", plate.stretched(120, 30)))
    )
    changes = told(capsys, 0, "compare", old, new)["facts"]["changes"]
    assert {"of": "blank", "what": "length along x", "old": 200.0, "new": 230.0, "unit": "mm"} in changes


@pytest.mark.parametrize(
    "words",
    [
        ("release", "gone.toml", "A"),
        ("verify", "gone.zip"),
        ("compare", "a.txt", "b.txt"),
        ("share", "gone.ipynb"),
        ("sent", "gone.db"),
    ],
)
def test_bad_input_ends_with_2_and_words(words: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(list(words)) == 2
    assert capsys.readouterr().err.strip()
