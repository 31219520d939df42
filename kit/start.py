#!/usr/bin/env python3
"""Start tinbook: makes its own Python environment on first use, then does one job.

    python3 kit/start.py             the main job: a floor pan from measured points
    python3 kit/start.py lab         the notebooks, in the browser
    python3 kit/start.py test        every check and test (what follows goes to pytest)
    python3 kit/start.py bench       one table of speed ratios

Standard library only, and readable by old Pythons, so that they can say what is wrong.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

OLDEST, BELOW = (3, 11), (3, 15)
ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / ".venv"
STAMP = HOME / "tinbook.json"
LOCK = ROOT / "kit" / "requirements.lock"
VIEWER = ROOT / "kit" / "viewer"
NEWS = "@jupyterlab/apputils-extension:notification"
BOOKS, FIRST = ROOT / "notebooks", "00_start_here.ipynb"
KERNEL = "import cadquery"
# What the geometry kernel needs from the system on Linux, with Debian's name of the package.
LIBRARIES = {"libGL.so.1": "libgl1", "libX11.so.6": "libx11-6", "libexpat.so.1": "libexpat1"}


def python_of(home, system):
    """Return the interpreter of an environment, as `os.name` calls the system."""
    return home / ("Scripts/python.exe" if system == "nt" else "bin/python")


PYTHON = python_of(HOME, os.name)


class Trouble(Exception):
    """Something the user has to put right; the message says how."""


def say(text):
    """Tell the user how far things are, beside the output of the job itself."""
    print(text, file=sys.stderr, flush=True)


def check_python():
    """Stop with a clear message under a Python that the libraries do not support."""
    if OLDEST <= sys.version_info[:2] < BELOW:
        return
    names = [f"python3.{minor}" for minor in range(BELOW[1] - 1, OLDEST[1] - 1, -1)]
    found = [name for name in names if shutil.which(name) and runs([name, "--version"])]
    advice = f"run it as: {found[0]} kit/start.py" if found else f"install one of: {', '.join(names)}"
    have = ".".join(map(str, sys.version_info[:3]))
    raise Trouble(
        f"tinbook needs Python {OLDEST[0]}.{OLDEST[1]} to {BELOW[0]}.{BELOW[1] - 1}; this is {have}; {advice}"
    )


def runs(command):
    """Say whether a command ends well; what it prints is dropped."""
    try:
        return subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode == 0
    except OSError:
        return False


def digest(paths):
    """Return one hash over names and contents of files."""
    total = hashlib.sha256()
    for path in sorted(paths):
        total.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()


def package_digest():
    """Return the hash of what decides how the package is installed: its place, project file and viewer source."""
    paths = [ROOT / "pyproject.toml", ROOT / "kit" / "build_hook.py"]
    for folder, inside, files in os.walk(VIEWER):
        inside[:] = [name for name in inside if name != "node_modules"]
        paths += [Path(folder) / name for name in files]
    viewer = "without viewer" if os.environ.get("TINBOOK_NO_VIEWER") == "1" else "with viewer"
    return f"{digest(paths)} {viewer} in {ROOT}"


def run_quietly(command, what, total=0):
    """Run an installer; say how far it is, and show what it printed only if it fails."""
    environment = dict(os.environ, PIP_USER="0", PIP_DISABLE_PIP_VERSION_CHECK="1", PYTHONIOENCODING="utf-8")
    lines, seen, told = [], 0, 0
    with subprocess.Popen(
        command,
        cwd=str(ROOT),
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
    ) as process:
        for line in process.stdout:
            lines.append(line.rstrip())
            seen += line.startswith(("Collecting ", "Requirement already satisfied"))
            if total and seen >= told + total / 5:
                told = seen
                say(f"  {min(seen, total)} of about {total}")
            if total and line.startswith("Installing collected"):
                say("  unpacking them")
    if process.returncode != 0:
        raise Trouble(f"{what} failed. The installer said:\n\n" + "\n".join(lines[-30:]))


def make_environment():
    """Make an empty environment in .venv."""
    import venv

    check_python()
    say(f"Making a Python environment in {HOME.name} ...")
    try:
        venv.EnvBuilder(clear=HOME.exists(), with_pip=True, symlinks=os.name != "nt").create(str(HOME))
    except (ImportError, subprocess.CalledProcessError) as error:
        name = f"python3.{sys.version_info[1]}-venv"
        raise Trouble(
            f"Python could not make an environment ({error}). On Debian or Ubuntu its parts come "
            f"in a package of their own: sudo apt-get install {name}"
        ) from error


def install_libraries():
    """Install the locked set and nothing beside it, each file checked against its hash."""
    total = len(re.findall(r"^[A-Za-z]", LOCK.read_text(encoding="utf-8"), re.MULTILINE))
    say("Fetching the libraries (several hundred megabytes, some minutes on a first run) ...")
    # Not compiled here: most modules are never imported, and the first import of the others compiles them.
    pip = [str(PYTHON), "-m", "pip", "install", "--no-compile", "--progress-bar", "off"]
    pip += ["--no-deps", "--require-hashes", "--only-binary", ":all:"]
    run_quietly([*pip, "-r", str(LOCK)], "Fetching the libraries", total)


def install_package():
    """Install tinbook itself, editable, with its viewer built."""
    say("Setting up tinbook and building its 3D view ...")
    pip = [str(PYTHON), "-m", "pip", "install", "--no-deps", "--no-build-isolation", "-e", "."]
    run_quietly(pip, "Setting up tinbook")


def missing_libraries():
    """Return the system libraries of LIBRARIES that cannot be loaded here."""
    import ctypes

    missing = []
    for name in LIBRARIES:
        try:
            ctypes.CDLL(name)
        except OSError:
            missing.append(name)
    return missing


def check_kernel():
    """Make sure that the geometry kernel loads, or say what the system lacks."""
    say("Trying the geometry kernel ...")
    done = subprocess.run(
        [str(PYTHON), "-c", KERNEL],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
    )
    if done.returncode == 0:
        return
    missing = missing_libraries() if sys.platform.startswith("linux") else []
    if missing:
        packages = " ".join(LIBRARIES[name] for name in missing)
        how = f"sudo apt-get install {packages}" if shutil.which("apt-get") else f"Debian calls them: {packages}"
        raise Trouble(f"The geometry kernel needs {', '.join(missing)}, which this system lacks. {how}")
    raise Trouble("The geometry kernel does not load here:\n\n" + "\n".join(done.stdout.splitlines()[-8:]))


def prepare():
    """Bring .venv up to date; each step is remembered, so that the next start skips it."""
    want = {"libraries": digest([LOCK]), "package": package_digest(), "kernel": digest([LOCK])}
    try:
        have = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        have = {}
    if not PYTHON.exists():
        have = {}
    if have == want:
        return
    if not have.get("libraries") and not runs([str(PYTHON), "-m", "pip", "--version"]):
        make_environment()
    for key, step in (("libraries", install_libraries), ("package", install_package), ("kernel", check_kernel)):
        if have.get(key) != want[key]:
            step()
            have = dict(have, **{key: want[key]})
            STAMP.write_text(json.dumps(have, indent=1), encoding="utf-8")
    say("Ready.\n")


def lab(words):
    """Open the notebooks at their first page; those that ship are trusted, and nothing is asked about news.

    Trust is kept in a file of this environment: the user's own list stays as it is.
    """
    trusted = f"--NotebookNotary.db_file={HOME / 'trusted_notebooks.db'}"
    books = sorted(path for path in BOOKS.glob("[0-9][0-9]_*.ipynb"))
    if not runs([str(PYTHON), "-m", "nbformat.sign", trusted, *map(str, books)]):
        say("The notebooks could not be marked as trusted; run their cells to see the pictures.")
    # A default of this environment; what the user has set for himself goes before it.
    defaults = HOME / "share" / "jupyter" / "lab" / "settings" / "overrides.json"
    defaults.parent.mkdir(parents=True, exist_ok=True)
    defaults.write_text(json.dumps({NEWS: {"fetchNews": "false", "checkForUpdates": False}}), encoding="utf-8")
    quiet = ["--LabApp.news_url=None", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate"]
    first = f"--LabApp.default_url=/lab/tree/{FIRST}"
    return hand_over("-m", "jupyterlab", "--notebook-dir=notebooks", first, trusted, *quiet, *words)


def run(*words):
    """Run a module of the environment and return its exit code."""
    return subprocess.call([str(PYTHON), "-m", *words], cwd=str(ROOT))


def hand_over(*words):
    """Let a module of the environment take the place of this program."""
    command = [str(PYTHON), *words]
    if os.name != "nt":
        os.chdir(str(ROOT))
        os.execv(command[0], command)
    return subprocess.call(command, cwd=str(ROOT))


def run_aside(*words):
    """Run a module of the environment beside other work; return its exit code and all that it printed."""
    command = [str(PYTHON), "-m", *words]
    done = subprocess.run(command, cwd=str(ROOT), stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    return done.returncode, done.stdout.decode("utf-8", "replace")


def test(words):
    """Run format and lint, then every test, with types beside them on whatever core is free; a failure stops none of these."""
    results = {
        "format": run("ruff", "format", "--check", "--quiet"),
        "lint": run("ruff", "check", "--quiet"),
    }
    with ThreadPoolExecutor(1) as beside:
        types = beside.submit(run_aside, "mypy", "--no-error-summary")
        if not words and not any((ROOT / "tests").rglob("__pycache__")):
            # A fresh clone: one process compiles libraries, kit and tests, else each of those below would.
            run_aside("pytest", "--collect-only", "-q")
        # One process more than cores: kernels, servers and browsers are waited for.
        spread = ["-n", str((os.cpu_count() or 1) + 1), "--dist", "loadscope", "--no-loadscope-reorder"]
        code = run("pytest", *(words or spread))
        results["types"], found = types.result()
    print(found, end="")
    for name, wrong in results.items():
        print(f"{name}: {'FAILED' if wrong else 'good'}", flush=True)
    return code or int(any(results.values()))


def main(words):
    """Do the job that the first word names."""
    verbs = {"lab", "test", "bench"}
    if words and words[0] in {"-h", "--help", "help"}:
        print(__doc__.strip())
        return 0
    verb = words[0] if words and words[0] in verbs else ""
    if words and not verb and not words[0].startswith("-"):
        print(f"unknown word {words[0]!r}\n\n{__doc__.strip()}", file=sys.stderr)
        return 2
    try:
        prepare()
    except Trouble as trouble:
        say(f"\n{trouble}")
        return 1
    if verb == "test":
        return test(words[1:])
    if verb == "lab":
        return lab(words[1:])
    if verb == "bench":
        return hand_over(str(ROOT / "tests" / "benchmarks" / "run.py"), *words[1:])
    return hand_over("-m", "tinbook.demo", *words)


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
