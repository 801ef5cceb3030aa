"""Run a notebook in a fresh kernel of this very Python, whatever kernels a person has set up."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from evpack.base.errors import EvpackError
from evpack.base.files import passing_folder

_CELL_SECONDS = 600  # the first run of a year compiles; a small or busy computer takes minutes
_SHARING = "EVPACK_SHARING"  # set in a kernel whose outputs become a page
_WIDGETS = "application/vnd.jupyter.widget-state+json"


class ShareError(EvpackError):
    """A workbook that did not run to its end, or a page that could not be written."""


def run(notebook: Any, folder: Path) -> None:
    """Run every cell of a notebook in place, with a folder as the working one.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        Its outputs are replaced.
    folder : Path
        Where relative paths in the cells start. Nothing in it is imported as a module.

    Raises
    ------
    ShareError
        A cell failed, hung, or hid an error inside a widget; or the kernel did not start.
    """
    from jupyter_client.manager import AsyncKernelManager  # noqa: PLC0415  half a second to load
    from nbclient import NotebookClient  # noqa: PLC0415
    from nbclient.exceptions import (  # noqa: PLC0415
        CellExecutionError,
        CellTimeoutError,
        DeadKernelError,
    )

    with passing_folder() as scratch:
        manager = AsyncKernelManager(
            kernel_spec_manager=_this_python(),
            connection_file=str(scratch / "kernel.json"),
            transport=transport(scratch),
        )
        client = NotebookClient(
            notebook,
            km=manager,
            timeout=_CELL_SECONDS,
            resources={"metadata": {"path": str(folder)}},
        )
        # The notebook client leaves a kernel manager that it was given to its owner.
        client.owns_km = True
        try:
            client.execute(env=_surroundings(str(scratch)), stderr=subprocess.DEVNULL)
        except CellExecutionError as problem:
            said = hidden_errors(notebook) or (f"{problem.ename}: {problem.evalue}",)
            raise ShareError(f"the workbook stopped: {said[0]}") from None
        except CellTimeoutError:
            raise ShareError(f"a cell of the workbook ran over {_CELL_SECONDS} s") from None
        except (DeadKernelError, RuntimeError) as problem:
            raise ShareError(f"the workbook's Python did not run: {problem}") from None
    hidden = hidden_errors(notebook)
    if hidden:
        raise ShareError(f"the workbook ran, but a part of it failed: {'; '.join(hidden)}")


def sharing() -> bool:
    """Return whether this is a kernel that `run` started, so that no one turns a control here."""
    return os.environ.get(_SHARING) == "1"


def hidden_errors(notebook: Any) -> tuple[str, ...]:
    """Return the errors in a notebook's outputs and inside its widgets, which swallow them."""
    outputs = [out for cell in notebook.cells for out in cell.get("outputs", ())]
    state = notebook.metadata.get("widgets", {}).get(_WIDGETS, {}).get("state", {})
    for model in state.values():
        outputs += model.get("state", {}).get("outputs", ())
    return tuple(
        f"{out['ename']}: {out['evalue']}" for out in outputs if out.get("output_type") == "error"
    )


def transport(scratch: Path) -> str:
    """Return how the kernel is spoken to: through files in its own folder, where that can be.

    A network port is found free, let go, and taken up by the kernel a second later; on a busy
    machine another process may have it by then, and the kernel dies.
    """
    import zmq  # noqa: PLC0415  Jupyter brings it

    longest = os.fsencode(scratch / "kernel-ipc-5")
    return "ipc" if len(longest) <= zmq.IPC_PATH_MAX_LEN else "tcp"


def _this_python() -> Any:
    """Return a finder of kernels that knows one: the running interpreter."""
    from jupyter_client.kernelspec import KernelSpec, KernelSpecManager  # noqa: PLC0415

    class ThisPython(KernelSpecManager):
        def get_kernel_spec(self, kernel_name: str) -> Any:
            # Without ignore_cwd a file beside the build sheet could pass for a module.
            launch = ["-m", "ipykernel_launcher", "-f", "{connection_file}"]
            argv = [sys.executable, *launch, "--InteractiveShellApp.ignore_cwd=True"]
            return KernelSpec(argv=argv, display_name=kernel_name, language="python")

    return ThisPython()


def _surroundings(scratch: str) -> dict[str, str]:
    """Return the environment of the kernel: this process's modules, nobody's start-up files."""
    surroundings = {k: v for k, v in os.environ.items() if k != "PYTHONSTARTUP"}
    surroundings["PYTHONPATH"] = os.pathsep.join(str(Path(entry).resolve()) for entry in sys.path)
    surroundings["PYTHONSAFEPATH"] = "1"
    surroundings["IPYTHONDIR"] = scratch
    surroundings[_SHARING] = "1"
    return surroundings
