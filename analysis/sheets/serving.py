"""Plan a tasting and write what it needs: ballots, sheets of words, tray list, key, and empty
records.
"""

from __future__ import annotations

import csv
import io
from importlib.metadata import version
from pathlib import Path
from typing import Any

from ...trials import Trial, TrialError
from ...trials.frozen import frozen
from ...trials.planning.serving import LOOKING, ServingPlan, plan_with_loaves
from ...trials.printing.book import book_bytes
from ...trials.printing.paper import CODE_HEAD_MM, CODE_MM, PAPERS, Paper
from ...trials.printing.sheet import Blanks, Block, Grid, Part, Sheet, SheetColumn, Words
from ...trials.printing.sheet_pdf import sheet_pdf
from ...trials.printing.sheet_xlsx import sheet_xlsx
from ...trials.sheets.ballots import (
    Ballot,
    WordSheet,
    ballots,
    tasting_book,
    word_sheets,
    words_book,
)
from ...trials.tasting.kinds import ASKING, KINDS, kind_named
from ...trials.writing.whole_files import SHEET_MARK, write_whole
from ..wording import ballots as say
from ..wording.sheets import OUT_OF_RANGE, PAGE

RECORDS = ("tasting", "words", "codes")
WORD_MM, HEADING_MM, WORD_ROW_MM = 38.0, 26.0, 8.6


@frozen(kw_only=True)
class Served:
    """The files that were written, and the plans behind them."""

    paths: tuple[Path, ...]
    plans: tuple[ServingPlan, ...]

    @property
    def text(self) -> str:
        """Return what is told of it."""
        n_codes = sum(len(plan.codes) for plan in self.plans)
        return say.served_text(self.paths, n_codes, self.plans[0].assessors, self.plans[0].seed)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return {
            "paths": [str(path) for path in self.paths],
            "plans": [plan.to_dict() for plan in self.plans],
        }


def serve_tasting(
    trial: Trial,
    out: str | Path,
    assessors: int | None = None,
    seed: int = 1,
    test: str | None = None,
    formula: str | None = None,
    against: str | None = None,
    repeats: int = 1,
    paper: str = "a4",
) -> Served:
    """Draw who is served what from the loaves of a trial, and write all that is needed into the
    folder ``out``.

    The card's ``test`` is planned where none is given, and a looking where the card has [words].

    Raises
    ------
    TrialError: the loaves hold errors, nobody has named the allergens, nothing is to be tasted or
    looked at, the number of people is not said, or a file is there already. Nothing is written
    then.
    """
    if paper not in PAPERS:
        raise TrialError.one(
            "paper-unknown", f"The paper {paper!r} is not known.", f"Give {' or '.join(PAPERS)}."
        )
    people = assessors or trial.card.tasting.assessors
    if people is None:
        raise TrialError.one(
            "people-number",
            "It is not said how many people come.",
            "Give --assessors 24, or write  assessors = 24  under [tasting] on the card.",
        )
    _refuse_faults(trial)
    plans = serving_plans(trial, people, seed, test, formula, against, repeats)
    _refuse_without_allergens(trial, plans)
    made_by = f"{SHEET_MARK}, version {version('fairloaf')}"
    files = record_files(trial, plans, PAPERS[paper])
    for name, sheet in _sheets(trial, plans, PAPERS[paper]).items():
        files[f"{name}.pdf"] = sheet_pdf(sheet, PAPERS[paper], made_by)
        files[f"{name}.xlsx"] = sheet_xlsx(sheet, PAPERS[paper], made_by)
    folder = Path(out)
    there = [
        name
        for kind in RECORDS
        for name in (f"{kind}.csv", f"{kind}.xlsx")
        if (folder / name).exists()
    ]
    if there:
        raise TrialError.one(
            "records-there",
            f"{folder} has {', '.join(there)} already.",
            "It stays as it is, and nothing was written. Choose another folder with --out.",
        )
    write_whole({folder / name: content for name, content in files.items()})
    return Served(paths=tuple(folder / name for name in files), plans=plans)


def _refuse_faults(trial: Trial) -> None:
    """Raise where the loaves hold errors; that nothing is measured yet is none here, and an earlier
    tasting's records are not looked at.
    """
    faults = [
        fault
        for fault in trial.errors
        if fault.code != "nothing-measured" and Path(fault.file or "").stem not in RECORDS
    ]
    if faults:
        raise TrialError(faults)


def serving_plans(
    trial: Trial,
    people: int,
    seed: int,
    test: str | None,
    formula: str | None,
    against: str | None,
    repeats: int,
) -> tuple[ServingPlan, ...]:
    """Return the plan of the test and that of the looking, where there are any; no code stands in
    both.
    """
    plans: list[ServingPlan] = []
    named = test or trial.card.tasting.test
    if named:
        plans.append(
            plan_with_loaves(named, _breads(trial, named, formula, against), people, repeats, seed)
        )
    if trial.card.words and not test:
        loaves = [str(loaf) for loaf in trial.counted["loaf"]]
        looking = plan_with_loaves(LOOKING, {loaf: [loaf] for loaf in loaves}, people, 1, seed)
        while plans and set(looking.codes["code"]) & set(plans[0].codes["code"]):
            seed += 1
            looking = plan_with_loaves(LOOKING, {loaf: [loaf] for loaf in loaves}, people, 1, seed)
        plans.append(looking)
    if not plans:
        raise TrialError.one(
            "nothing-to-serve",
            "Neither a test nor words to tick are on the card.",
            f"Give --test ({', '.join(KINDS)}), or write [tasting] or [words] on the card.",
        )
    return tuple(plans)


def _breads(
    trial: Trial, test: str, formula: str | None, against: str | None
) -> dict[str, list[str]]:
    """Return bread → its loaves: two formulas, or all for a ranking; the one expected to have more
    comes last.
    """
    table = trial.counted
    if "formula" not in table or table["formula"].isna().all():
        raise TrialError.one(
            "no-formulas", "The loaves have no formulas.", "Write them in the table of loaves."
        )
    loaves = {
        str(name): [str(loaf) for loaf in part["loaf"]]
        for name, part in table.groupby("formula", sort=True)
    }
    kind = kind_named(test)
    if kind is None or not kind.orders:
        return loaves
    first = against or trial.card.control or next(iter(loaves))
    others = [name for name in loaves if name != first]
    second = formula or (others[0] if len(others) == 1 else None)
    if first not in loaves or second not in loaves:
        raise TrialError.one(
            "which-breads",
            f"It is not clear which two breads are served; there are {', '.join(loaves)}.",
            "Give --formula and --against.",
        )
    expected = trial.card.tasting.expected
    more = {name: expected.index(name) if name in expected else -1 for name in (first, second)}
    return {name: loaves[name] for name in sorted(more, key=lambda name: more[name])}


def _refuse_without_allergens(trial: Trial, plans: tuple[ServingPlan, ...]) -> None:
    """Raise where nobody has named the allergens of every formula that is served."""
    named = trial.card.tasting.allergens
    served = {str(loaf) for plan in plans for loaf in plan.codes["bread"]}
    table = trial.loaves[trial.loaves["loaf"].astype(str).isin(served)]
    formulas = sorted(set(table["formula"].dropna().astype(str))) if "formula" in table else []
    missing = [
        name for name in formulas if named is not None and "" not in named and name not in named
    ]
    if named is None or missing:
        of = f" of {', '.join(missing)}" if missing else ""
        raise TrialError.one(
            "allergens-not-named",
            f"Nobody has named the allergens{of}, so that no ballot is printed.",
            'Write on the card, under [tasting],  allergens = ["gluten", "milk"]  or, where there'
            " are none,  allergens = []",
        )


def record_files(trial: Trial, plans: tuple[ServingPlan, ...], paper: Paper) -> dict[str, bytes]:
    """Return the key and the empty records."""
    key = io.StringIO()
    lines = csv.writer(key, lineterminator="\n")
    lines.writerow(["code", "loaf"])
    lines.writerows(row for plan in plans for row in plan.key)
    asked = trial.card.tasting.asked or ""
    files = {"codes.csv": key.getvalue().encode()}
    for plan in plans:
        book = (
            words_book(plan, trial.card.words)
            if plan.test == LOOKING
            else tasting_book(plan, asked)
        )
        files[f"{book.name}.xlsx"] = book_bytes((book,), paper, SHEET_MARK, OUT_OF_RANGE)
    return files


def _sheets(trial: Trial, plans: tuple[ServingPlan, ...], paper: Paper) -> dict[str, Sheet]:
    """Return every sheet by its name."""
    cautions = say.ballot_cautions(trial.card.tasting.allergens or {})
    parts: dict[str, list[Part]] = {"ballots": [], "word_sheets": [], "tray_list": [], "key": []}
    for plan in plans:
        if plan.test == LOOKING:
            parts["word_sheets"] += [
                _word_part(one, cautions, paper) for one in word_sheets(plan, trial.card.words)
            ]
        else:
            pages = ballots(plan, trial.card.tasting.asked or "")
            parts["ballots"] += [_ballot_part(page, cautions) for page in pages]
            parts["tray_list"].append(_tray_part(plan))
    parts["key"].append(_key_part(trial, plans))
    mark = f"{plans[0].seed}-{plans[0].assessors}"
    return {
        name: Sheet(kind=say.KINDS[name], mark=mark, parts=tuple(some), words_of_page=PAGE)
        for name, some in parts.items()
        if some
    }


def _ballot_part(ballot: Ballot, cautions: tuple[str, ...]) -> Part:
    """Return one person's page."""
    kind = KINDS[ballot.test]
    how = {"tetrad": "pair", "preference": "prefer", "ranking": "order"}.get(kind.name, "one")
    answer = (
        SheetColumn(say.BALLOT["rank"], "write", 34.0)
        if kind.name == "ranking"
        else SheetColumn(say.BALLOT["answer"], "tick", 22.0)
    )
    columns = (
        SheetColumn(say.BALLOT["place"], "strong", 28.0),
        SheetColumn(say.BALLOT["code"], "code", CODE_MM),
        answer,
        SheetColumn(say.BALLOT["comment"], "write"),
    )
    blocks: list[Block] = [
        *(Words(words, "caution") for words in cautions),
        Words(kind.question, "head"),
        Words(say.BALLOT[how]),
    ]
    if ballot.asked:
        blocks.append(Words(f"{say.BALLOT['asked']} {ballot.asked}", "head"))
    elif kind.name in ASKING:
        blocks.append(Blanks((say.BALLOT["asked"],), 80.0))
    for serving in ballot.servings:
        if len(ballot.servings) > 1:
            blocks.append(Words(say.SERVING.format(serving.repeat), "head"))
        if serving.reference:
            blocks.append(Words(say.BALLOT["reference"].format(serving.reference), "large"))
        rows = [(str(i), code, "", "") for i, code in enumerate(serving.codes, 1)]
        rows += [("", say.BALLOT["none"], "", "")] if kind.name == "preference" else []
        blocks.append(Grid(columns, tuple(rows)))
    return Part(say.PERSON.format(ballot.assessor), tuple(blocks))


def _word_part(sheet: WordSheet, cautions: tuple[str, ...], paper: Paper) -> Part:
    """Return one person's sheet of words; with many breads the codes go on in a second table."""
    most = int((paper.inside_mm - HEADING_MM - WORD_MM) // CODE_HEAD_MM)
    blocks: list[Block] = [
        *(Words(words, "caution") for words in cautions),
        Words(say.WORDS["how"]),
    ]
    rows = [
        (heading if i == 0 else "", word)
        for heading, words in sheet.headings
        for i, word in enumerate(words)
    ]
    for start in range(0, len(sheet.codes), most):
        codes = sheet.codes[start : start + most]
        columns = (
            SheetColumn(say.WORDS["heading"], "strong", HEADING_MM),
            SheetColumn(say.WORDS["word"], "text", WORD_MM),
            *(SheetColumn(code, "tick", CODE_HEAD_MM, coded=True) for code in codes),
        )
        blocks.append(Grid(columns, tuple((*row, *[""] * len(codes)) for row in rows), WORD_ROW_MM))
    blocks.append(Blanks((say.WORDS["comment"],), 130.0))
    return Part(say.PERSON.format(sheet.assessor), tuple(blocks))


def _tray_part(plan: ServingPlan) -> Part:
    """Return what stands on every tray: loaf and code of each cup."""
    loaf = dict(plan.key)
    has_reference = plan.test == "duo-trio"

    def cup(code: str) -> tuple[str, str]:
        return f"{say.KEY['loaf'].lower()} {loaf[code]}", code

    columns = (
        SheetColumn(say.TRAY["person"], "strong", 18.0),
        SheetColumn(say.TRAY["serving"], "strong", 18.0),
        *((SheetColumn(say.TRAY["reference"], "text", 44.0),) if has_reference else ()),
        SheetColumn(say.TRAY["cups"]),
    )
    rows = tuple(
        (
            row["assessor"],
            row["repeat"],
            *(((cup(row["reference"]),),) if has_reference else ()),
            tuple(cup(code) for code in row["served"].split()),
        )
        for row in plan.rows
    )
    return Part(say.PART, (Grid(columns, rows),))


def _key_part(trial: Trial, plans: tuple[ServingPlan, ...]) -> Part:
    """Return what stands behind every code."""
    about = trial.loaves.drop_duplicates("loaf").set_index(
        trial.loaves["loaf"].drop_duplicates().astype(str)
    )
    shown = [name for name in ("formula", "mix") if name in about]
    columns = (
        SheetColumn(say.KEY["code"], "code", CODE_MM),
        SheetColumn(say.KEY["loaf"], "strong", 24.0),
        *(SheetColumn(say.KEY[name]) for name in shown),
    )
    rows = tuple(
        (code, bread, *(str(about[name].get(bread, "")) for name in shown))
        for plan in plans
        for code, bread in plan.key
    )
    return Part(say.KINDS["key"].split(":")[0], (Grid(columns, rows, 10.0),))
