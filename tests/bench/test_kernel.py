"""A real kernel under a flood of slider messages: stale values are never worked on."""

from __future__ import annotations

import ast
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
START = """import time
from typing import Annotated
import tinbook as tb
from bench_samples import tray
calls = []
def design(length: Annotated[float, tb.Range(600, 1200, 1, "mm")] = 900,
           leg: Annotated[float, tb.Range(20, 80, 1, "mm")] = 40):
    calls.append((length, leg))
    time.sleep(WAIT)
    return tray(length, leg)
bench = tb.workbench(design, tb.Shop.demo())
form = bench._controls.box.model_id
"""


class Kernel:
    """A client of one kernel."""

    def __init__(self, client: Any) -> None:
        self.client = client

    def run(self, code: str) -> Any:
        """Run code; return the value of its last line."""
        reply = self.client.execute(code, user_expressions={"last": "_last"} if "_last" in code else {})
        answer = self.client.get_shell_msg(timeout=600)
        while answer["parent_header"].get("msg_id") != reply:
            answer = self.client.get_shell_msg(timeout=600)
        assert answer["content"]["status"] == "ok", answer["content"]
        shown = answer["content"]["user_expressions"].get("last")
        return ast.literal_eval(shown["data"]["text/plain"]) if shown else None

    def value(self, expression: str) -> Any:
        """Return the value of an expression."""
        return self.run(f"_last = {expression}")

    def slide(self, comm: str, name: str, value: float) -> None:
        """Send what a browser sends when a slider moves."""
        self.send(comm, {f"shown_{name}": value})

    def send(self, comm: str, state: dict[str, Any]) -> None:
        """Send a widget's state as a browser does."""
        content = {"comm_id": comm, "data": {"method": "update", "state": state, "buffer_paths": []}}
        self.client.shell_channel.send(self.client.session.msg("comm_msg", content))


@pytest.fixture(scope="module")
def kernel(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kernel]:
    """A kernel in an empty folder."""
    from jupyter_client.manager import KernelManager

    home = tmp_path_factory.mktemp("kernel")
    path = os.pathsep.join([str(root / "kit"), str(HERE)])
    manager = KernelManager(kernel_name="python3")
    manager.start_kernel(env=dict(os.environ, PYTHONPATH=path, IPYTHONDIR=str(home)), cwd=str(home))
    client = manager.blocking_client()
    client.start_channels()
    try:
        client.wait_for_ready(timeout=600)
        yield Kernel(client)
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)


def settle(kernel: Kernel) -> None:
    """Wait until the kernel has taken all messages and nothing waits for a pause any more."""
    kernel.run("import asyncio\nwhile bench._refresh.waiting or bench._settle.waiting:\n    await asyncio.sleep(0.01)")


@contextmanager
def busy(kernel: Kernel, folder: Path) -> Iterator[None]:
    """Keep the kernel busy, so that what is sent to it piles up."""
    go = folder / "go"
    kernel.client.execute(f"from pathlib import Path\nwhile not Path({str(go)!r}).exists(): time.sleep(0.01)")
    yield
    go.touch()


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_two_sliders_and_a_slow_design_never_queue_stale_work(kernel: Kernel, tmp_path: Path) -> None:
    kernel.run(START.replace("WAIT", "0.4"))
    form = kernel.value("form")
    before = kernel.value("len(calls)")
    with busy(kernel, tmp_path):
        for i in range(1, 41):
            kernel.slide(form, "length", 900 + i)
            kernel.slide(form, "leg", 40 + i / 2)
    settle(kernel)
    calls = kernel.value("calls")[before:]
    # Eighty messages, and one call, two at most if the first fell into a pause: always with the latest values.
    assert calls[-1] == (940.0, 60.0)
    assert len(calls) <= 2
    assert kernel.value("bench.values") == {"length": 940.0, "leg": 60.0}
    assert kernel.value("bench.made.part.folds[0].leg[0]") == 60.0


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_messages_that_arrive_while_the_kernel_is_busy_are_answered_once(kernel: Kernel, tmp_path: Path) -> None:
    kernel.run(START.replace("WAIT", "0"))
    form = kernel.value("form")
    before = kernel.value("len(calls)")
    with busy(kernel, tmp_path):
        for i in range(1, 61):
            kernel.slide(form, "length", 900 + i)
    settle(kernel)
    calls = kernel.value("calls")[before:]
    assert calls[-1] == (960.0, 40.0)
    assert len(calls) <= 3


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_what_is_typed_while_a_slider_of_the_same_control_is_on_its_way_counts_last(kernel: Kernel) -> None:
    kernel.run(START.replace("WAIT", "0"))
    form = kernel.value("form")
    kernel.send(form, {"shown_length": 910, "typed_length": ["26 in", 1], "shown_leg": 41})
    settle(kernel)
    assert kernel.value("bench.values") == {"length": 660.4, "leg": 41.0}
    kernel.send(form, {"typed_length": ["99999", 2], "typed_leg": ["2,7", 1]})
    settle(kernel)
    assert kernel.value("bench.values") == {"length": 660.4, "leg": 41.0}
    assert sorted(kernel.value("bench._controls.box.problems")) == ["leg", "length"]


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_one_slide_is_one_step_to_undo(kernel: Kernel) -> None:
    kernel.run(START.replace("WAIT", "0"))
    form = kernel.value("form")
    for i in range(1, 11):
        kernel.slide(form, "length", 900 + i)
    settle(kernel)
    assert kernel.value("len(bench._history.done)") == 2
    kernel.run("bench.undo()")
    assert kernel.value("bench.values['length']") == 900.0


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_an_error_while_sliding_is_shown_with_the_line_of_the_users_own_cell(kernel: Kernel) -> None:
    code = START.replace("WAIT", "0").replace("return tray(length, leg)", "return tray(length, 1 / (leg - 50))")
    kernel.run(code)
    form = kernel.value("form")
    kernel.slide(form, "leg", 50)
    settle(kernel)
    assert "division by zero" in kernel.value("str(bench.failure)")
    line = next(i for i, text in enumerate(code.splitlines(), 1) if "1 / (leg" in text)
    assert f"design, line {line}" in kernel.value("bench._desk.problem.value")
