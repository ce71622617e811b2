"""Files written whole or not at all: beside their place first, then renamed. Only a report of ours is replaced."""

from __future__ import annotations

import os
import tempfile
import zipfile
from collections.abc import Mapping
from pathlib import Path

from ...analysis.wording.report import cannot_write, in_the_way
from .. import TrialError

MARK = "fairloaf report"


def write_whole(files: Mapping[Path, bytes]) -> None:
    """Write all these files, or none where one cannot be written.

    Raises
    ------
    TrialError: a file is there that is no report of ours, or a folder cannot be made or written to.
    """
    blocked = [path for path in files if path.exists() and not is_ours(path)]
    if blocked:
        raise TrialError([in_the_way(str(path)) for path in blocked])
    beside: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            beside[_beside(path, content)] = path
        for kept, path in beside.items():
            os.replace(kept, path)
    except OSError as problem:
        raise TrialError([cannot_write(str(problem.filename or ""), problem.strerror or str(problem))]) from None
    finally:
        for kept in beside:
            kept.unlink(missing_ok=True)


def _beside(path: Path, content: bytes) -> Path:
    """Return a whole, finished file in the folder of ``path``, under another name."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=".part", dir=path.parent)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.chmod(name, 0o666 & ~_umask())
    return Path(name)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def is_ours(path: Path) -> bool:
    """Return whether a file carries the mark that every report of ours carries."""
    if not path.is_file():
        return False
    if path.suffix == ".xlsx":
        try:
            with zipfile.ZipFile(path) as book:
                return MARK.encode() in book.read("docProps/core.xml")
        except (zipfile.BadZipFile, KeyError):
            return False
    return MARK.encode() in path.read_bytes()
