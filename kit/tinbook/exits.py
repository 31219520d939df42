"""How a command ends: its exit codes, and one line instead of a traceback where the user ended it."""

from __future__ import annotations

import json
import os
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from tinbook.errors import TinbookError, cut

GOOD: Final = 0
STOPPED: Final = 1
"""A finding stops the part."""
BAD: Final = 2
"""Bad input: a file, a value or a folder that cannot be used."""
UNPROVED: Final = 3
"""Nothing stops the part, but nobody knows whether it folds; files say so."""
CRASHED: Final = 70
"""A mistake of the kit's (EX_SOFTWARE of sysexits.h)."""
ENDED: Final = 130
"""Ctrl-C (128 and the signal's number, as a shell says it)."""

CODES: Final = "exit codes: 0 good, 1 a finding stops, 2 bad input, 3 not proved, 70 a mistake of the kit, 130 Ctrl-C"


def guarded(job: Callable[[], int], *, as_json: bool = False) -> int:
    """Run a command's job and turn whatever it raises into an exit code and words.

    Parameters
    ----------
    job : callable
        Prints what it found and returns its code.
    as_json : bool
        Say what is wrong as JSON on the standard output, else in words on the other one.

    Returns
    -------
    int
        The job's code, or BAD, CRASHED, ENDED. Whoever read the output may have gone: that changes no code.
    """
    try:
        return job()
    except BrokenPipeError:
        return GOOD
    except TinbookError as wrong:
        return _told(str(wrong), type(wrong).__name__, BAD, as_json)
    except OSError as wrong:
        why = f"{cut(str(wrong.filename or ''))}: {wrong.strerror or cut(str(wrong))}"
        return _told(why, "OSError", BAD, as_json)
    except KeyboardInterrupt:
        return _told("ended by Ctrl-C; every file that was written is whole", "KeyboardInterrupt", ENDED, as_json)
    except Exception as wrong:  # noqa: BLE001 -- the last resort of a command
        with suppress(BrokenPipeError):
            traceback.print_exc()
        kind = type(wrong).__name__
        why = f"{kind}: a mistake of the kit, not of yours; please show the authors the lines above and what you asked for"
        return _told(why, kind, CRASHED, as_json)
    finally:
        _flush()


def show(text: str) -> None:
    """Print to standard output; a closed pipe (head, less) is not an error."""
    with suppress(BrokenPipeError):
        print(text, flush=True)


def _told(why: str, kind: str, code: int, as_json: bool) -> int:
    if as_json:
        show(json.dumps({"error": kind, "what": why, "exit": code}, indent=2, ensure_ascii=False))
    else:
        with suppress(BrokenPipeError):
            print(why, file=sys.stderr, flush=True)
    return code


def _flush() -> None:
    """Flush standard output, so that the interpreter has nothing to report at exit."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except BrokenPipeError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        except ValueError:
            pass  # closed already
