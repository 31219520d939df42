"""Whether this process is a fork: the threads of its parent do not exist in it."""

from __future__ import annotations

import os

_forked = False


def _note() -> None:
    global _forked
    _forked = True


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_note)


def threads_answer() -> bool:
    """Whether a library's pool of threads may be used.

    The geometry kernel keeps one pool for a process. A forked child inherits the pool without its threads, and waits
    for them for ever; so it works on its own.
    """
    return not _forked
