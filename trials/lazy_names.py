"""Public names of a package, and whole modules, that are loaded when they are first asked for."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

# what the library of special functions imports and no answer uses, a compiler and tools for tests:
# as long to load as all that fits models
UNUSED = ("numpy.f2py", "numpy.testing")


def loaded_when_asked(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return the ``__getattr__`` of a package: name → its module, told from the package."""

    def load(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f".{homes[name]}", package), name)

    return load


def run_when_asked(*names: str) -> None:
    """Let modules run when something of them is first asked for, wherever they are imported before
    (as the library reference has it of ``LazyLoader``); those that have run or are not there stay
    so. Their packages are imported.
    """
    from importlib.util import LazyLoader, find_spec, module_from_spec

    for name in names:
        spec = None if name in sys.modules else find_spec(name)
        if spec is None or spec.loader is None:
            continue
        spec.loader = LazyLoader(spec.loader)
        module = sys.modules[name] = module_from_spec(spec)
        spec.loader.exec_module(module)
        package, _, own = name.rpartition(".")
        setattr(sys.modules[package], own, module)
