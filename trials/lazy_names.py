"""Public names of a package, and whole modules, that are loaded when they are first asked for."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from importlib import import_module
from importlib.util import LazyLoader, find_spec, module_from_spec
from types import ModuleType
from typing import Any

# what the library of statistics imports and no answer uses, a compiler and tools for tests: as long
# to load as all that fits models
UNUSED = ("numpy.f2py", "numpy.testing")
SPECIAL = "scipy.special"
# what is compiled, and what is made of it
HOMES = ("scipy.special._ufuncs", "scipy.special._basic")


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
    for name in names:
        spec = None if name in sys.modules else find_spec(name)
        if spec is None or spec.loader is None:
            continue
        spec.loader = LazyLoader(spec.loader)
        module = sys.modules[name] = module_from_spec(spec)
        spec.loader.exec_module(module)
        package, _, own = name.rpartition(".")
        setattr(sys.modules[package], own, module)


class _Compiled(ModuleType):
    """The package of special functions before it runs: a name is looked for in their homes, and
    the package runs when it is not there.
    """

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)  # a module of the package, which is found by its file
        for home in HOMES:
            with suppress(ImportError, AttributeError):
                return getattr(import_module(home), name)
        self.__class__ = ModuleType  # type: ignore[assignment]
        self.__spec__.loader.exec_module(self)  # type: ignore[union-attr]
        return getattr(self, name)


def load_little() -> None:
    """Let the library of statistics load what answers use, wherever it is imported before: special
    functions without their package, which writes what is said of each (a third of the time of
    loading pandas), and no tools for those who build it.
    """
    run_when_asked(*UNUSED)
    spec = None if SPECIAL in sys.modules else find_spec(SPECIAL)
    if spec is not None:
        package = sys.modules[SPECIAL] = module_from_spec(spec)
        package.__class__ = _Compiled
