"""A Jupyter or Voila server of a test's own, on this machine only, and a notebook in it."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal
from urllib.error import URLError
from urllib.request import urlopen

KIT = Path(__file__).resolve().parents[2] / "kit"
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
"""Options of a browser that draws 3-D in software and talks to nobody."""
Front = Literal["lab", "notebook", "voila"]


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


def write_notebook(path: Path, cells: list[str]) -> Path:
    """Write a notebook of code cells without outputs."""
    page = {
        "cells": [
            {"cell_type": "code", "id": f"c{i}", "execution_count": None, "metadata": {}, "outputs": [], "source": s}
            for i, s in enumerate(cells)
        ],
        "metadata": {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}},
        "nbformat": 4,
        "nbformat_minor": 5,
    }
    path.write_text(json.dumps(page), encoding="utf-8")
    return path


@contextmanager
def serve(folder: Path, home: Path, front: Front, notebook: str = "") -> Iterator[str]:
    """Run a server in `folder`; give its address. Its settings live in `home`, so no user's file matters."""
    port = free_port()
    settings = home / "config" / "lab" / "user-settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True, exist_ok=True)
    news = {"fetchNews": "false", "checkForUpdates": False}
    (settings / "notification.jupyterlab-settings").write_text(json.dumps(news), encoding="utf-8")
    env = dict(
        os.environ,
        PYTHONPATH=str(KIT),
        JUPYTER_CONFIG_DIR=str(home / "config"),
        JUPYTER_DATA_DIR=str(home / "data"),
        JUPYTER_PATH=str(KIT / "share"),
        JUPYTER_RUNTIME_DIR=str(home / "runtime"),
        IPYTHONDIR=str(home / "ipython"),
        OMP_NUM_THREADS="1",
    )
    env.pop("CI", None)
    env.pop("PYTHONDONTWRITEBYTECODE", None)  # no user's kernel compiles the libraries anew each time
    common = [f"--ServerApp.port={port}", "--ServerApp.ip=127.0.0.1", "--ServerApp.port_retries=0", "--no-browser"]
    open_door = ["--IdentityProvider.token=", "--ServerApp.password=", "--allow-root", f"--ServerApp.root_dir={folder}"]
    quiet = ["--LabApp.news_url=", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate"]
    exposed = [f"--{app}.expose_app_in_browser=True" for app in ("LabApp", "JupyterNotebookApp")]
    command = {
        "lab": ["jupyterlab", *common, *open_door, *quiet, *exposed],
        "notebook": ["notebook", *common, *open_door, *exposed],
        "voila": [
            "voila",
            *([str(folder / notebook)] if notebook else []),
            f"--port={port}",
            "--no-browser",
            "--Voila.ip=127.0.0.1",
            "--template=tinbook",
        ],
    }[front]
    with (
        (home / "server.log").open("w", encoding="utf-8") as log,
        subprocess.Popen([sys.executable, "-m", *command], cwd=folder, env=env, stdout=log, stderr=log) as process,
    ):
        try:
            address = f"http://127.0.0.1:{port}"
            wait_for(address, process, home / "server.log")
            yield address
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()


def wait_for(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    """Wait until the server answers; the time is long enough for a machine under any load."""
    end = time.monotonic() + 300
    while time.monotonic() < end:
        if process.poll() is not None:
            raise RuntimeError(f"the server stopped:\n{log.read_text(encoding='utf-8')[-3000:]}")
        try:
            with urlopen(address + ("" if "voila" in process.args else "/api"), timeout=30):  # type: ignore[operator]
                return
        except URLError:
            time.sleep(0.3)
        except OSError:
            time.sleep(0.3)
    raise RuntimeError(f"the server did not answer:\n{log.read_text(encoding='utf-8')[-3000:]}")


def open_notebook(page: Any, address: str, notebook: str, front: Front = "lab", dark: bool = False) -> None:
    """Open a notebook and wait until its kernel is ready."""
    page.goto(f"{address}/lab/tree/{notebook}?reset" if front == "lab" else f"{address}/notebooks/{notebook}")
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=300_000)
    page.wait_for_function(
        """async () => {
            const session = window.jupyterapp?.shell.currentWidget?.sessionContext;
            if (!session) return false;
            await session.ready;
            return session.session?.kernel?.status === "idle";
        }""",
        timeout=300_000,
    )
    if dark:
        run_command(page, "apputils:change-theme", {"theme": "JupyterLab Dark"})
        page.wait_for_function("document.body.dataset.jpThemeLight === 'false'")


def run_command(page: Any, command: str, args: dict[str, Any] | None = None) -> None:
    """Run a command of JupyterLab or Notebook through its own application object."""
    page.evaluate("([c, a]) => { window.jupyterapp.commands.execute(c, a); }", [command, args or {}])


def run_all(page: Any, timeout: float = 300_000) -> None:
    """Run all cells and wait until the last one has its number."""
    run_command(page, "notebook:run-all-cells")
    # Cells out of sight are not in the page; the application's own model knows them all.
    page.wait_for_function(
        """() => {
            const cells = window.jupyterapp.shell.currentWidget.content.widgets.map((w) => w.model);
            return cells.filter((m) => m.type === "code").every((m) => m.executionCount && m.executionState !== "running");
        }""",
        timeout=timeout,
    )


def run_below(page: Any, mark: str) -> list[str]:
    """Run the cells below the first code cell that holds a mark, wait for them, and return their errors."""
    return list(
        page.evaluate(
            """async (mark) => {
                const { content: book } = window.jupyterapp.shell.currentWidget;
                const code = (w) => w.model.type === "code";
                const i = book.widgets.findIndex((w) => code(w) && w.model.sharedModel.source.includes(mark));
                book.activeCellIndex = i + 1;
                await window.jupyterapp.commands.execute("notebook:run-all-below");
                const cells = book.widgets.slice(i + 1).filter(code);
                while (cells.some((w) => w.model.executionState === "running")) await new Promise((go) => setTimeout(go, 100));
                const errors = cells.flatMap((w) => w.model.outputs.toJSON()).filter((o) => o.output_type === "error");
                return errors.map((o) => `${o.ename}: ${o.evalue}`);
            }""",
            mark,
        )
    )
