"""Files written whole or not at all: beside their place first, then renamed. Only a report of ours is replaced."""

from __future__ import annotations

import os
import tempfile
import zipfile
from collections.abc import Collection, Mapping
from pathlib import Path

from ..findings import Finding, TrialError

MARK = "fairloaf report"


def write_whole(files: Mapping[Path, bytes], replaceable: Collection[Path] = ()) -> None:
    """Write all these files, or none where one cannot be written.

    ``replaceable`` : files that may be replaced although they are no report of ours.

    Raises
    ------
    TrialError: a file is there that may not be replaced, or a folder cannot be made or written to.
    """
    blocked = [path for path in files if path.exists() and path not in replaceable and not is_ours(path)]
    if blocked:
        raise TrialError([_in_the_way(str(path)) for path in blocked])
    beside: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            beside[_beside(path, content)] = path
        for kept, path in beside.items():
            os.replace(kept, path)
    except OSError as problem:
        raise TrialError([_cannot_write(str(problem.filename or ""), problem.strerror or str(problem))]) from None
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


def _in_the_way(path: str) -> Finding:
    """Return that a file is there which is no report of ours."""
    return Finding(code="file-in-the-way", severity="error", message=f"{path} is there and is no report made here.",
                   fix="It was left as it is. Move it away, or choose another folder with --out.", file=path)


def _cannot_write(path: str, why: str) -> Finding:
    """Return that a file could not be written."""
    return Finding(code="cannot-write", severity="error",
                   message=f"{path or 'The report'} cannot be written: {why}.",
                   fix="Choose a folder that can be written to with --out. Nothing was written.", file=path)
