"""The one door to the compiler: how kernels are compiled and where the result is kept.

Nothing here is imported at start-up; importing this module costs the import of numba.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

import numba

Parameters = ParamSpec("Parameters")
Result = TypeVar("Result")

PACKAGE_FOLDER = Path(__file__).parent


def _source_fingerprint() -> str:
    # numba's own cache sees a change in the caller's file only, never in the functions it calls or
    # in constants they import, so the cache is kept in a folder named after all of these sources.
    digest = hashlib.sha256()
    named = [PACKAGE_FOLDER / f"{name}.py" for name in ("arithmetic", "constants", "lanes")]
    parts = (PACKAGE_FOLDER / part for part in ("body", "suit", "outing", "procedure"))
    kernels = [source for part in parts for source in part.glob("*.py")]
    for source in sorted(named + kernels):
        text = source.read_bytes()
        if source in named or b"import compiled" in text:
            digest.update(text)
    return digest.hexdigest()[:16]


@cache
def cache_folder() -> Path:
    """Folder where compiled kernels of exactly these sources are kept.

    It lies in the user's cache folder; where that cannot be written, in a temporary folder, and
    the kernels are compiled anew by every process.
    """
    base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(base) / "neckring" / f"kernels-{_source_fingerprint()}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        writable = os.access(folder, os.W_OK)
    except OSError:
        writable = False
    if writable:
        return folder
    passing = Path(tempfile.mkdtemp(prefix="neckring-"))
    atexit.register(shutil.rmtree, passing, ignore_errors=True)
    return passing


def is_compiled() -> bool:
    """Whether these kernels have been compiled before on this machine."""
    return any(cache_folder().rglob("*.nbc"))


# Set on the library itself, not in the environment: who imported numba before us has fixed the
# environment's value, and a cache beside the sources would serve stale machine code.
setattr(numba.config, "CACHE_DIR", str(cache_folder()))  # noqa: B010 - not in its type stub


def compiled(function: Callable[Parameters, Result]) -> Callable[Parameters, Result]:
    """Compile a kernel function, keeping IEEE arithmetic so that every machine gives one answer.

    Args:
        function: A function of scalars and arrays that numba can compile.

    Returns:
        The compiled function; `.py_func` is the original.
    """
    decorator: Any = numba.njit(cache=True, nogil=True, error_model="numpy")
    return cast("Callable[Parameters, Result]", decorator(function))
