"""Test modules by the CPU time that they take: the heaviest start first, and a run against a mutant keeps them for last."""

from __future__ import annotations

HEAVY: tuple[str, ...] = (
    "tests/families/test_assembled.py",
    "notebooks/17_what_beads_do.ipynb",
    "tests/families/test_promise.py",
    "tests/route/test_interference.py",
    "tests/read/test_unfold_files.py",
    "notebooks/15_floor_pan_pair.ipynb",
    "tests/invariants/test_views.py",
    "tests/families/test_heavy.py",
    "tests/invariants/test_zoo.py",
    "tests/route/test_fold_search.py",
    "notebooks/14_hinged_lid.ipynb",
    "tests/write/test_same_bytes.py",
    "notebooks/04_bead_rolled_panel.ipynb",
    "tests/families/test_every_family.py",
    "tests/route/test_fold_order_known.py",
    "notebooks/11_dash.ipynb",
    "notebooks/07_winch_cradle.ipynb",
    "tests/write/test_sheet_folds.py",
    "tests/write/test_drafts.py",
    "notebooks/12_tank_cradle.ipynb",
    "tests/read/test_adopt.py",
    "notebooks/10_tunnel.ipynb",
    "tests/route/test_handling.py",
    "tests/read/test_unfold_foreign.py",
    "tests/invariants/test_unfold_roundtrip.py",
    "notebooks/09_body_mount.ipynb",
    "tests/families/test_folding_promise.py",
    "tests/read/test_read_dxf_fuzz.py",
    "tests/route/test_assumed_tools.py",
    "tests/route/test_takeout.py",
    "tests/families/test_straps.py",
    "tests/route/test_stops.py",
)
"""Measured with a process's own and its children's CPU time; a module of more than 5 s belongs here."""
