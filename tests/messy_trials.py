"""Folders of records as people leave them: small trials of random shape with odd cells, empty
columns, half a card and scores of every kind. Nobody baked any of it.
"""

from __future__ import annotations

import random
from pathlib import Path

Row = list[str]
ODD = ("", "", "n/a", "-", "0", "-5", "1e-5", "1e9", "burnt", "12 kg", "=1+1", "nan", "∞", "7/10")
NAMES = ("house", "malted", "rye & oats", "No. 7", "Ωmega", "<b>x</b>", "A" * 80)
MEASURES = ("loaf_ml", "loaf_g", "height_mm", "specific_volume", "bake_loss_pct", "mood", "soft")
HEADERS = ("value", "score", "result", "grade")


def messy_folder(draw: random.Random, folder: Path) -> Path:
    """Write one trial into a folder, whatever stood there, and return it."""
    folder.mkdir(exist_ok=True)
    for name in ("trial.toml", "scores.csv"):
        (folder / name).unlink(missing_ok=True)
    rows, numbers = loaves(draw)
    (folder / "loaves.csv").write_text(as_text(rows), "utf-8")
    if draw.random() < 0.4:
        (folder / "scores.csv").write_text(as_text(scores(draw, numbers)), "utf-8")
    if draw.random() < 0.7:
        (folder / "trial.toml").write_text(card(draw, rows), "utf-8")
    return folder


def loaves(draw: random.Random) -> tuple[list[Row], list[str]]:
    """Return the rows of a table of loaves, header first, and the loaves' numbers."""
    formulas = draw.sample(NAMES, draw.choice([1, 2, 2, 2, 3, 4]))
    days, per_day, each = draw.randint(1, 4), draw.choice([1, 1, 1, 2]), draw.randint(1, 4)
    spread = draw.choice([0.0, 3.0, 10.0, 40.0, 40.0, 200.0])
    table: list[dict[str, str]] = []
    for day in range(days):
        for formula in formulas:
            for mix in range(per_day):
                size = 1600 + draw.gauss(0, spread)
                for loaf in range(each):
                    table.append(
                        {
                            "loaf": str(len(table) + 1),
                            "day": f"2026-03-{day + 1:02d}",
                            "mix": f"{day}{formulas.index(formula)}{mix}",
                            "formula": formula,
                            "tin": ("open", "tall", "lidded")[loaf % 3],
                            "proof_min": str(45 + 15 * (loaf % 2)),
                            "dough_g": str(draw.randint(455, 465)),
                            "loaf_g": f"{400 + draw.gauss(0, spread / 10):.1f}",
                            "loaf_ml": f"{size + draw.gauss(0, spread):.0f}",
                            "height_mm": str(110 + loaf % 3),
                            "bake_order": str(loaf + 1),
                            "baker": draw.choice(["Ada", "Bo"]),
                            "crumb_soft": str(draw.randint(1, 9)),
                            "mood": draw.choice(["1", "2", "3.5"]),
                            "void": "" if draw.random() < 0.9 else "fell",
                        }
                    )
    usual = ("formula", "mix", "loaf_g", "loaf_ml")
    often = [name for name in list(table[0])[1:] if draw.random() < 0.5 + 0.45 * (name in usual)]
    kept = ["loaf", *draw.sample(often, len(often))]
    odd = draw.choice([0.0, 0.0, 0.0, 0.02])
    rows = [kept] + [[row[name] for name in kept] for row in table]
    for row in rows[1:]:
        for place in range(1, len(row)):
            if draw.random() < odd:
                row[place] = draw.choice(ODD)
    if len(kept) > 1 and draw.random() < 0.1:
        place = draw.randrange(1, len(kept))
        for row in rows[1:]:
            row[place] = draw.choice(["", "", "5", ODD[0]]) if draw.random() < 0.5 else ""
    if draw.random() < 0.3:
        rows = [rows[0], *draw.sample(rows[1:], draw.randint(1, len(rows) - 1))]
    return rows, [row[0] for row in rows[1:]]


def scores(draw: random.Random, numbers: list[str]) -> list[Row]:
    """Return a table of scores: long, of some loaves, people who agree or do not."""
    people, words = draw.sample(["Ann", "Ben", "Cem", "Dot"], draw.randint(1, 4)), ["soft", "even"]
    same, step = draw.random() < 0.3, draw.choice([1.0, 1.0, 0.5])
    odd = draw.choice([0.0, 0.0, 0.0, 0.02])
    rows = [["loaf", "assessor", "attribute", draw.choice(HEADERS)]]
    for number in draw.sample(numbers, draw.randint(1, len(numbers))):
        for word in words[: draw.randint(1, 2)]:
            common = draw.randint(1, 9)
            for person in people:
                value = common if same else step * draw.randint(2, 9)
                if draw.random() < 0.95:
                    cell = f"{value:g}" if draw.random() >= odd else draw.choice(ODD)
                    rows.append([number, person, word, cell])
    return rows


def card(draw: random.Random, rows: list[Row]) -> str:
    """Return a card that fits the table, mostly."""
    header, lines = rows[0], []
    if draw.random() < 0.5:
        there = [name for name in MEASURES if name in header] or list(MEASURES)
        lines.append(f'measure = "{draw.choice(there if draw.random() < 0.9 else MEASURES)}"')
    if draw.random() < 0.5:
        lines.append(f"matters = {draw.choice(['0.2', '0.2', '50', '50', '1e-9', '1e9', '0'])}")
    if "formula" in header and draw.random() < 0.4:
        names = [row[header.index("formula")] for row in rows[1:]]
        lines.append(
            f'control = "{draw.choice(names) if draw.random() < 0.9 else "nobody"}"'.replace(
                "\\", ""
            )
        )
    if draw.random() < 0.3:
        lines.append(f'proof_to = "{draw.choice(["time", "height"])}"')
    if draw.random() < 0.4:
        lines.append("[factors]")
        for name in draw.sample(["formula", "tin", "proof_min", "baker", "mood"], 2):
            if name in header:
                levels = dict.fromkeys(row[header.index(name)] for row in rows[1:])
                if name == "proof_min":
                    lines.append("proof_min = [45, 60]")
                else:
                    shown = ", ".join(f'"{level}"' for level in levels)
                    lines.append(f"{name} = [{shown}]")
    if draw.random() < 0.3:
        lines += ["[tins.lidded]", "volume_ml = 2100", "lid = true"]
    if draw.random() < 0.3:
        lines += ["[scores]", f"scale = {draw.choice(['[1, 9]', '[1, 10]', '[0, 100]'])}"]
    return "\n".join(lines)


def as_text(rows: list[Row]) -> str:
    """Return rows as CSV."""
    return "\n".join(",".join(row) for row in rows) + "\n"
