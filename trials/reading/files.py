"""The files of a trial: which stand in its folder, read whole, and nothing outside it."""

from __future__ import annotations

import codecs
from pathlib import Path

from ..card import FILE as CARD
from ..columns import KINDS
from ..findings import Finding, TrialError
from ..frozen import frozen
from ..words.lists import listed
from .grid import LARGEST_FILE

PLAN = "plan.csv"  # the key that planning drew
TABLE_SUFFIXES = (".csv", ".xlsx", ".xls", ".ods", ".tsv", ".txt")
TEXT_SUFFIXES = (".csv", ".tsv", ".txt")
LONGEST_HEADER = 100_000  # bytes
# the endings of a card that was saved under a name of its own; what other tools keep in such a file
CARD_SUFFIXES = (".toml", ".toml.txt")
OTHER_TOML = ("pyproject.toml",)
# tables that are never taken for the loaves
PARTS = tuple(KINDS)
# workbooks to print for a tasting, which hold no records
SERVED = ("ballots.xlsx", "word_sheets.xlsx", "tray_list.xlsx", "key.xlsx")
LARGEST_CARD = 100_000  # bytes; a card is a page or two


@frozen(kw_only=True)
class TrialFiles:
    """The paths of a trial's files, by what they hold: "card", "plan", "loaves", and the
    ``PARTS``.
    """

    folder: Path | None
    paths: dict[str, Path]
    assumptions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def find_files(path: Path) -> TrialFiles:
    """Return the files of the trial at ``path``, a folder or a single file.

    Raises
    ------
    TrialError: nothing is there, or the folder has no file of loaves.
    """
    try:
        if path.is_dir():
            return _in_folder(path)
        if path.is_file():
            if path.name.casefold() in (CARD, PLAN) or path.stem.casefold() in PARTS:
                raise TrialError.one(
                    "part-of-a-trial",
                    f"{path.name} is only a part of a trial, without its loaves.",
                    f"Give its folder:  {path.parent}",
                )
            return TrialFiles(folder=None, paths={"loaves": path})
        there = path.exists()
    except (OSError, ValueError) as problem:
        raise _unreadable(str(path), problem) from None
    if there:
        raise TrialError.one(
            "not-a-file",
            f"{path.name} is neither a file nor a folder.",
            "Give a trial's folder, or a file with one row per loaf.",
        )
    raise TrialError.one(
        "no-file", f"There is no {path}.", "Give a trial's folder, or a file with one row per loaf."
    )


def _in_folder(folder: Path) -> TrialFiles:
    entries = {entry.name.casefold(): entry for entry in sorted(folder.iterdir())}
    paths = {kind: found for kind in ("loaves", *PARTS) if (found := _table(entries, kind))}
    paths |= {
        kind: entries[file] for kind, file in (("card", CARD), ("plan", PLAN)) if file in entries
    }
    left = (*_cards_by_another_name(entries, paths), *_more_loaves(entries, paths))
    if "loaves" in paths:
        return TrialFiles(folder=folder, paths=paths, findings=left)
    others = [
        entry
        for entry in entries.values()
        if entry.suffix.casefold() in TABLE_SUFFIXES
        and entry.is_file()
        and entry.stem.casefold() not in (*PARTS, "plan")
        and entry.name.casefold() not in SERVED
        and entry.name[0] not in ".~"
    ]
    if len(others) != 1:
        said = (
            f"it has: {', '.join(entry.name for entry in others[:10])}"
            if others
            else "it has no table at all"
        )
        if not others and {"tasting", "words", "codes"} & set(paths):
            raise TrialError.one(
                "no-loaves-file",
                f"The folder {str(folder.resolve())!r} has"
                f" {listed([paths[kind].name for kind in PARTS if kind in paths])}, but no"
                " loaves.csv.",
                "Put them beside the trial's loaves.csv: a row a loaf, with its number and"
                " formula.",
            )
        begin = "" if others else " Or begin a trial:  fairloaf new my_trial"
        raise TrialError.one(
            "no-loaves-file",
            f"The folder {str(folder.resolve())!r} has no loaves.csv; {said}.",
            f"Call the file with one row per loaf loaves.csv, or give that file itself.{begin}",
        )
    told = f"{others[0].name} is taken for the file of loaves, because there is no loaves.csv."
    return TrialFiles(
        folder=folder, paths=paths | {"loaves": others[0]}, assumptions=(told,), findings=left
    )


def _cards_by_another_name(entries: dict[str, Path], paths: dict[str, Path]) -> tuple[Finding, ...]:
    """Return a warning for what seems to be the card, where the folder has none by its name."""
    if "card" in paths:
        return ()
    return tuple(
        Finding(
            code="card-other-name",
            severity="warning",
            message=f"{entry.name} is not read: the card of a trial is called {CARD}.",
            fix=f"If it is the card of this trial, call it {CARD}.",
            why="What the card says does not reach the answer.",
            file=entry.name,
        )
        for name, entry in entries.items()
        if name.endswith(CARD_SUFFIXES) and name not in OTHER_TOML and name[0] not in ".~"
    )


def _more_loaves(entries: dict[str, Path], paths: dict[str, Path]) -> tuple[Finding, ...]:
    """Return a warning for every file that has the header line of the loaves and is not read."""
    loaves = paths.get("loaves")
    if loaves is None or loaves.suffix.casefold() not in TEXT_SUFFIXES:
        return ()
    header = _first_line(loaves)
    return tuple(
        Finding(
            code="loaves-not-read",
            severity="warning",
            message=(
                f"{entry.name} has the same columns as {loaves.name} and is not read: a trial's"
                " loaves stand in one file."
            ),
            fix=(
                f"If its loaves belong to this trial, add its rows to {loaves.name}; if not, put"
                " it into another folder."
            ),
            why="Loaves that are not read do not reach the answer.",
            file=entry.name,
        )
        for name, entry in entries.items()
        if header
        and entry not in paths.values()
        and name.endswith(TEXT_SUFFIXES)
        and name[0] not in ".~"
        and _first_line(entry) == header
    )


def _first_line(path: Path) -> bytes:
    """Return the first line of a file as it compares; nothing where it cannot be read, such as of
    a pipe that nobody writes to.
    """
    if not path.is_file():
        return b""
    try:
        with path.open("rb") as file:
            return file.readline(LONGEST_HEADER).removeprefix(codecs.BOM_UTF8).strip().lower()
    except OSError:
        return b""


def _table(entries: dict[str, Path], kind: str) -> Path | None:
    """Return the file of a kind; two of them are an error, because nobody can say which one is
    meant.
    """
    found = [entries[kind + suffix] for suffix in TABLE_SUFFIXES if kind + suffix in entries]
    if len(found) > 1:
        raise TrialError.one(
            "two-files",
            f"There are both {' and '.join(entry.name for entry in found)}.",
            "Keep one of them in the folder.",
        )
    return found[0] if found else None


def read_bytes(path: Path, folder: Path | None, largest: int = LARGEST_FILE) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    TrialError: it is too large, no regular file, a link that leads out of ``folder``, or cannot be
    opened.
    """
    try:
        if folder and not path.resolve().is_relative_to(folder.resolve()):
            raise TrialError.one(
                "leads-outside",
                f"{path.name} is a link to a file outside the trial's folder.",
                "Copy the file into the folder.",
                file=path.name,
            )
        if not path.is_file():
            raise TrialError.one(
                "not-a-file",
                f"{path.name} is no ordinary file.",
                "Put a file there.",
                file=path.name,
            )
        with path.open("rb") as opened:
            raw = opened.read(largest + 1)
    except (OSError, ValueError, RuntimeError) as problem:
        raise _unreadable(path.name, problem) from None
    if len(raw) > largest:
        raise TrialError.one(
            "file-too-large",
            f"{path.name} has more than {largest:,} bytes.",
            "Split it: a million loaves take about 60,000,000 bytes.",
            file=path.name,
        )
    return raw


def _unreadable(name: str, problem: Exception) -> TrialError:
    why = getattr(problem, "strerror", None) or str(problem)
    return TrialError.one(
        "file-unreadable",
        f"{name} cannot be opened: {why}.",
        "Check that it exists and that you may read it.",
        file=name,
    )
