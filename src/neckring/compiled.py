"""The one door to the compiler: how kernels are compiled and where the result is kept.

Nothing here is imported at start-up; importing this module costs the import of numba.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

Parameters = ParamSpec("Parameters")
Result = TypeVar("Result")

PACKAGE_FOLDER = Path(__file__).parent


def _source_fingerprint() -> str:
    # numba's own cache sees a change in the caller's file only, never in the functions it calls,
    # so the cache is kept in a folder named after all sources that are compiled together.
    digest = hashlib.sha256()
    for part in ("body", "suit", "outing"):
        for source in sorted((PACKAGE_FOLDER / part).glob("*.py")):
            text = source.read_bytes()
            if b"import compiled" in text:
                digest.update(text)
    return digest.hexdigest()[:16]


def cache_folder() -> Path:
    """Folder in the user's cache where compiled kernels of exactly these sources are kept."""
    base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(base) / "neckring" / f"kernels-{_source_fingerprint()}"


def is_compiled() -> bool:
    """Whether these kernels have been compiled before on this machine."""
    return any(cache_folder().rglob("*.nbc"))


os.environ.setdefault("NUMBA_CACHE_DIR", str(cache_folder()))

import numba  # noqa: E402  the cache folder must be named before numba reads it


def compiled(function: Callable[Parameters, Result]) -> Callable[Parameters, Result]:
    """Compile a kernel function, keeping IEEE arithmetic so that every machine gives one answer.

    Args:
        function: A function of scalars and arrays that numba can compile.

    Returns:
        The compiled function; `.py_func` is the original.
    """
    decorator: Any = numba.njit(cache=True, nogil=True, error_model="numpy")
    return cast("Callable[Parameters, Result]", decorator(function))
