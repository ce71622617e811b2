"""A tasting with its key and its words, and nothing wrong in it (invented), as the files of a
folder.
"""

from __future__ import annotations

from pathlib import Path

LOAVES = ["loaf,formula,mix", "1,house,a", "2,house,b", "3,malted,c", "4,malted,d"]
CODES = ["code,loaf", "123,1", "321,1", "234,3", "432,3", "357,2", "468,4"]
ORDERS = ["123 234 432", "123 321 234", "123 234 321", "234 123 321", "234 432 123", "234 123 432"]
TASTING = (
    ["assessor,test,served,answer,asked,reference,repeat"]
    + [f"p{n},triangle,{ORDERS[n % 6]},{ORDERS[n % 6].split()[n % 3]},,," for n in range(1, 13)]
    + [
        f"p{n},duo-trio,{'357 468' if n % 2 else '468 357'},{'357' if n < 9 else '468'},,"
        f"{'1' if n % 4 < 2 else '3'},"
        for n in range(1, 13)
    ]
    + [
        "p1,tetrad,123 321 234 432,123 321,,,",
        "p1,ranking,357 468,357 < 468,sour,,",
        "p2,preference,357 468,none,,,",
    ]
)
WORDS = ["assessor,code,sour,chewy"] + [
    f"p{n},{code},{'x' if code == '234' else ''},{'x' if n % 2 else ''}"
    for n in range(1, 13)
    for code in ("123", "234")
]
WORDS[3] += "x"  # p2 ticked a word, too
CARD = """
title = "Malted against house (invented)"
control = "house"
[factors]
formula = ["house", "malted"]
[tasting]
test = "triangle"
may_tell = 0.3
expected = ["house", "malted"]
assessors = 12
allergens = ["gluten"]
[words]
taste = ["sour"]
bite = ["chewy"]
"""


def written(folder: Path, **files: list[str] | str | None) -> Path:
    """Write the folder, with some files other than the good ones; None leaves a file out."""
    good: dict[str, list[str] | str | None] = {
        "loaves.csv": LOAVES,
        "codes.csv": CODES,
        "tasting.csv": TASTING,
        "words.csv": WORDS,
        "trial.toml": CARD,
    }
    names = {
        "loaves": "loaves.csv",
        "codes": "codes.csv",
        "tasting": "tasting.csv",
        "words": "words.csv",
        "card": "trial.toml",
    }
    for name, text in (good | {names[key]: value for key, value in files.items()}).items():
        if text is not None:
            (folder / name).write_text(
                text if isinstance(text, str) else "\n".join(text) + "\n", encoding="utf-8"
            )
    return folder


def with_line(lines: list[str], line: int, text: str) -> list[str]:
    """Return the lines with another text on one, counted from 1 as an editor does; after the last
    it is added.
    """
    return [*lines[: line - 1], text, *lines[line:]]
