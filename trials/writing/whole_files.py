"""Files written whole or not at all: beside their place first, then renamed. Only a report of ours
is replaced.

A report carries a mark where its form keeps such things (a page's generator, a document's author, a
workbook's comments, the field made_by), with a fingerprint of the records that it was made from.
"""

from __future__ import annotations

import errno
import os
import re
import tempfile
import zipfile
from collections.abc import Collection, Mapping
from pathlib import Path

from ..findings import Finding, TrialError

MARK, SHEET_MARK = "fairloaf report", "fairloaf sheet"
_WHERE = {  # how a mark stands in each form; words of a record cannot stand there
    ".html": '<meta name="generator" content="{mark}, [^"]*"',
    ".pdf": r"%PDF-.*/Author ?\({mark}, [^)]*\)",
    ".json": '"made_by": ?"{mark}, [^"]*"',
    ".svg": r"^<\?xml [^>]*>\s*<!-- {mark}, [^>]*-->",
    ".png": r"tEXtSoftware\x00{mark}, [ -~]*",
    ".xlsx": "<dc:description>{mark}, [^<]*<",
}
_RECORDS = re.compile(rb"records ([0-9a-f]{12})")
TOO_LONG = {errno.ENAMETOOLONG: "its name is too long"}


def write_whole(
    files: Mapping[Path, bytes], replaceable: Collection[Path] = (), mark: str = MARK
) -> None:
    """Write all these files, or none where one cannot be written.

    ``replaceable`` : files that may be replaced although they do not carry ``mark``, as what was
    made here does.

    Raises
    ------
    TrialError: a file is there that may not be replaced, or a folder cannot be made or written to.
    """
    blocked = [
        path
        for path in files
        if path.exists() and path not in replaceable and not is_ours(path, mark)
    ]
    if blocked:
        raise TrialError([_in_the_way(str(path)) for path in blocked])
    beside: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            beside[_beside(path, content)] = path
        for kept, path in beside.items():
            os.replace(kept, path)
    except OSError as problem:
        raise TrialError([_cannot_write(str(problem.filename or ""), why(problem))]) from None
    finally:
        for kept in beside:
            kept.unlink(missing_ok=True)


def _beside(path: Path, content: bytes) -> Path:
    """Return a whole, finished file in the folder of ``path``, under another name."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o666 & ~_umask())
    except OSError:
        Path(name).unlink(missing_ok=True)  # a full disk leaves no part behind
        raise
    return Path(name)


def why(problem: OSError) -> str:
    """Return what the system says of a file that could not be written, never an empty word."""
    return (
        TOO_LONG.get(problem.errno or 0)
        or problem.strerror
        or str(problem)
        or type(problem).__name__
    )


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def is_ours(path: Path, mark: str = MARK) -> bool:
    """Return whether a file carries the mark that every report of ours carries, or another
    ``mark``, in its form's own place for it.
    """
    return bool(_mark_in(path, mark))


def records_of(path: Path) -> str:
    """Return the fingerprint of the records that a report of ours was made from, "" where it has
    none.
    """
    found = _RECORDS.search(_mark_in(path, MARK))
    return found.group(1).decode() if found else ""


def _mark_in(path: Path, mark: str) -> bytes:
    """Return a mark as it stands in a file, b"" where it has none."""
    where = _WHERE.get(path.suffix)
    if where is None or not path.is_file():
        return b""
    content = path.read_bytes()
    if path.suffix == ".xlsx":
        try:
            with zipfile.ZipFile(path) as book:
                content = book.read("docProps/core.xml")
        except (zipfile.BadZipFile, KeyError):
            return b""
    found = re.search(where.format(mark=mark).encode(), content, re.DOTALL)
    return found.group(0) if found else b""


def _in_the_way(path: str) -> Finding:
    """Return that a file is there which is no report of ours."""
    return Finding(
        code="file-in-the-way",
        severity="error",
        message=f"{path} is there and is no report made here.",
        fix="It was left as it is. Move it away, or choose another folder with --out.",
        file=path,
    )


def _cannot_write(path: str, why: str) -> Finding:
    """Return that a file could not be written."""
    return Finding(
        code="cannot-write",
        severity="error",
        message=f"{path or 'The report'} cannot be written: {why}.",
        fix="Choose a folder that can be written to with --out. Nothing was written.",
        file=path,
    )
