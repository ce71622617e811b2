"""The command line: read, call, print, exit code. Each command imports what it needs, and no
more.
"""

from __future__ import annotations

import atexit
import gc
import io
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from ..trials.lazy_names import load_little
from ..trials.words.numbers import number_style
from . import cli_tasting
from .cli_options import (
    HERE,
    AsJson,
    Confidence,
    Locale,
    MeasureName,
    Sheet,
    TrialPath,
    TrialPaths,
    say,
    show,
)
from .cli_trials import STOPPED, Answered, answer_each, tell_stopped
from .one_thread import THREADS

app = typer.Typer(
    name="fairloaf",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help=(
        "Bake trials, compared fairly: check the records, ask what made the difference, write the"
        " report."
    ),
)


Matters = Annotated[
    float | None, typer.Option(help="Smallest difference worth acting on, such as 0.2.")
]

# what takes as long to load as a report to work out
PICTURES = (f"{__package__}.figures.style", f"{__package__}.report.pictures")


class Reader(StrEnum):
    """Who the report is for."""

    CLASS = "class"
    WALL = "wall"
    BAKERY = "bakery"
    RECORD = "record"


class Form(StrEnum):
    """What the report is written as."""

    HTML = "html"
    PDF = "pdf"
    XLSX = "xlsx"
    JSON = "json"
    SVG = "svg"
    PNG = "png"


class SheetForm(StrEnum):
    """What the sheets are written as."""

    PDF = "pdf"
    XLSX = "xlsx"


class PaperSize(StrEnum):
    """What the sheets are printed on."""

    A4 = "a4"
    LETTER = "letter"


def print_version(wanted: bool) -> None:
    """Print the version and stop."""
    if wanted:
        from importlib.metadata import version

        typer.echo(f"fairloaf {version('fairloaf')}")
        raise typer.Exit


@app.callback()
def every_command(
    version: Annotated[
        bool,
        typer.Option("--version", callback=print_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Bake trials, compared fairly: check the records, ask what made the difference, write the
    report.
    """


@app.command(epilog="Example: fairloaf new my_trial --like small_bakery")
def new(
    folder: Annotated[
        Path, typer.Argument(help="The new folder, or one with records that get a card.")
    ],
    like: Annotated[
        str | None, typer.Option(help="Copy this example; a wrong name lists them.")
    ] = None,
    source: Annotated[
        Path | None,
        typer.Option(
            "--from",
            help="Begin with this spreadsheet: it is copied, and a "
            "card proposed that names its columns.",
        ),
    ] = None,
    sheet: Sheet = None,
    as_json: AsJson = False,
) -> None:
    """Start a trial: a folder with a card to fill in, or proposed from a spreadsheet."""
    from ..trials.writing.starting import start_trial

    if like and source:
        raise typer.BadParameter("begins with an example: leave out --from.", param_hint="--like")
    if source is not None or (like is None and os.path.isdir(folder)):
        begin_from(folder, source, sheet, as_json)
        return

    made = start_trial(folder, like)
    following = (
        f"fairloaf report {made}"
        if like
        else (f"fill in trial.toml and loaves.csv in it, then  fairloaf check {made}")
    )
    show(
        (
            {"folder": str(made), "files": sorted(p.name for p in made.iterdir())}
            if as_json
            else f"Made {made}. Next: {following}"
        ),
        as_json,
    )


@app.command(epilog="Example: fairloaf plan my_trial --seed 1")
def plan(
    trial: Annotated[
        Path, typer.Argument(metavar="TRIAL", help="The folder with the card.")
    ] = HERE,
    seed: Annotated[
        int | None, typer.Option(min=0, help="Draw with this number; else one is drawn.")
    ] = None,
    like: Annotated[
        Path | None, typer.Option(help="A past trial that tells how mixes and loaves vary.")
    ] = None,
    only_look: Annotated[
        bool, typer.Option("--only-look", help="Show the plan and write nothing.")
    ] = False,
    again: Annotated[
        bool, typer.Option("--again", help="Replace a plan that nothing is recorded for.")
    ] = False,
    locale: Locale = "en",
    as_json: AsJson = False,
) -> None:
    """Plan a trial that can answer: who makes what when, and what it will show."""
    from ..trials import bench_timetable
    from ..trials.planning.saving import save_plan
    from .answers_of_plans import planned
    from .wording.plan_power import power_lines
    from .wording.plans import plan_text

    style = number_style(locale)
    found = planned(trial, seed=seed, like=like, writes=not only_look, again=again, style=style)
    made, weighed, shows = found.plan, found.weighed, found.shows
    timetable = bench_timetable(made)
    written: tuple[Path, ...] = ()
    if not only_look:
        from .figures.lean import load_lean

        load_lean()
        from .figures.plans import plan_pictures

        written = save_plan(made, trial, again, beside=plan_pictures(made, timetable, style))
    if as_json:
        show(
            {
                "shows": shows.to_dict(),
                "plan": made.to_dict(),
                "timetable": timetable.to_dict(),
                "weigh_out": weighed.to_dict(),
                "written": [path.name for path in written],
            },
            as_json,
        )
        return
    say(
        plan_text(
            made,
            timetable,
            weighed,
            style=style,
            answer=shows.sentence,
            power_lines=power_lines(shows, style=style),
            written=written,
        )
    )


@app.command(epilog="Example: fairloaf sheets my_trial --paper letter --form pdf")
def sheets(
    trial: Annotated[
        Path, typer.Argument(metavar="TRIAL", help="A planned trial's folder.")
    ] = HERE,
    paper: Annotated[
        PaperSize, typer.Option(help="What the sheets are printed on.")
    ] = PaperSize.A4,
    form: Annotated[
        list[SheetForm] | None,
        typer.Option(help="pdf to print, xlsx to type into; both if silent."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the PDFs; TRIAL/sheets if silent.")
    ] = None,
    locale: Locale = "en",
    as_json: AsJson = False,
) -> None:
    """Write the sheets of a plan: what to bake from, and a workbook for the records."""
    from .sheets import FORMS, make_sheets
    from .wording.sheets import written_text

    forms = tuple(dict.fromkeys(one.value for one in form)) if form else FORMS
    written = make_sheets(trial, paper=paper.value, forms=forms, out=out, locale=locale)
    show(written.to_dict() if as_json else written_text(written.paths, written.findings), as_json)


@app.command(epilog="Examples: fairloaf check my_trial;  fairloaf check monday tuesday")
def check(
    trials: TrialPaths = None,
    sheet: Sheet = None,
    as_json: AsJson = False,
    list_checks: Annotated[
        bool, typer.Option("--list", help="List every check and why it is made.")
    ] = False,
    list_columns: Annotated[
        bool, typer.Option("--columns", help="Explain every column of the records.")
    ] = False,
    tidy: Annotated[
        Path | None, typer.Option(help="Write a clean copy of the loaves to this new file.")
    ] = None,
    mend: Annotated[
        Path | None,
        typer.Option(help="Write the loaves as they are, with the obvious slips put right."),
    ] = None,
    locale: Annotated[
        str, typer.Option(help="How the clean copy separates numbers and columns, such as de.")
    ] = "en",
) -> None:
    """List what needs attention in the records. No file is changed."""
    from .wording import findings as words

    if list_checks:
        from ..trials.fairness.check_list import describe_checks

        show(
            (
                describe_checks().to_dict("records")
                if as_json
                else words.checks_text(describe_checks())
            ),
            as_json,
        )
        return
    if list_columns:
        from ..trials.writing.columns_page import columns_page

        say(columns_page())
        return
    if trials and len(trials) > 1 and (tidy or mend):
        raise typer.BadParameter("copy one trial at a time.", param_hint="--tidy and --mend")
    from ..trials.loading import read_trial

    def checked(trial: Path, head: Callable[[], None]) -> Answered:
        read = read_trial(trial, sheet=sheet)
        if mend is not None:
            from ..trials.writing.mending import write_mended

            log = write_mended(trial, mend, sheet=sheet)
            say(words.tidy_text(log, mend), err=as_json)
        if tidy is not None:
            from ..trials.writing.tidy import write_tidy

            log = write_tidy(trial, tidy, sheet=sheet, style=number_style(locale))
            say(words.tidy_text(log, tidy), err=as_json)
        data = {
            "trial": read.name,
            "findings": [f.to_dict() for f in read.findings],
            "assumptions": list(read.assumptions),
        }
        return (
            STOPPED if read.errors else 0,
            data,
            lambda: words.print_findings(
                read.findings, read.assumptions, name=read.name, n_loaves=len(read.loaves)
            ),
        )

    raise typer.Exit(answer_each(trials or [HERE], checked, as_json))


@app.command(
    epilog="Example: fairloaf compare my_trial --formula malted --against house --matters 0.2"
)
def compare(
    trial: TrialPath = HERE,
    formula: Annotated[str | None, typer.Option(help="The formula asked about.")] = None,
    against: Annotated[
        str | None, typer.Option(help="The formula to hold it against; the card's control.")
    ] = None,
    measure: MeasureName = None,
    matters: Matters = None,
    confidence: Confidence = 0.95,
    locale: Locale = "en",
    sheet: Sheet = None,
    as_json: AsJson = False,
) -> None:
    """Compare two formulas fairly: the mix counts, not the loaf."""
    from ..trials import load_trial

    load_little()
    from .answers import compare_formulas
    from .wording.comparison import comparison_text
    from .wording.findings import with_warnings

    style = number_style(locale)
    records = load_trial(trial, sheet=sheet)
    result = compare_formulas(records, formula, against, measure, matters, confidence, style=style)
    show(
        result.to_dict()
        if as_json
        else with_warnings(comparison_text(result, style), records.findings),
        as_json,
    )


@app.command(epilog="Example: fairloaf factors my_trial --measure height_mm")
def factors(
    trial: TrialPath = HERE,
    measure: MeasureName = None,
    three_way: Annotated[
        bool, typer.Option("--three-way", help="Ask for three factors together as well.")
    ] = False,
    every_measure: Annotated[
        bool,
        typer.Option(
            "--every-measure", help="A table of every factor and every measure on the card."
        ),
    ] = False,
    confidence: Confidence = 0.95,
    locale: Locale = "en",
    sheet: Sheet = None,
    as_json: AsJson = False,
) -> None:
    """Find which factor changed the loaf, and by how much."""
    from ..trials import load_trial

    load_little()
    from .answers import factor_effects
    from .wording.factors import factors_text
    from .wording.findings import with_warnings

    if every_measure and (measure or three_way):
        raise typer.BadParameter(
            "asks for every measure by itself: leave out --measure and --three-way.",
            param_hint="--every-measure",
        )
    style = number_style(locale)
    records = load_trial(trial, sheet=sheet)
    if every_measure:
        from .answers import measures_grid
        from .wording.measures_grid import grid_text

        grid = measures_grid(records, confidence=confidence, style=style)
        show(
            grid.to_dict() if as_json else with_warnings(grid_text(grid, style), records.findings),
            as_json,
        )
        return
    result = factor_effects(
        records, measure=measure, three_way=three_way, confidence=confidence, style=style
    )
    show(
        result.to_dict()
        if as_json
        else with_warnings(factors_text(result, style), records.findings),
        as_json,
    )


@app.command(epilog="Example: fairloaf crumb my_trial")
def crumb(
    trial: TrialPath = HERE,
    formula: Annotated[str | None, typer.Option(help="The formula asked about.")] = None,
    against: Annotated[
        str | None, typer.Option(help="The formula to hold it against; the card's control.")
    ] = None,
    confidence: Confidence = 0.95,
    locale: Locale = "en",
    sheet: Sheet = None,
    as_json: AsJson = False,
) -> None:
    """Say what the crumb scores say of the breads, and of the scoring."""
    from ..trials import load_trial

    load_little()
    from .answers import crumb_scores
    from .wording.crumb import crumb_text
    from .wording.findings import with_warnings

    style = number_style(locale)
    records = load_trial(trial, sheet=sheet)
    result = crumb_scores(
        records, formula=formula, against=against, confidence=confidence, style=style
    )
    show(
        result.to_dict() if as_json else with_warnings(crumb_text(result, style), records.findings),
        as_json,
    )


@app.command(
    epilog="Example: fairloaf report my_trial --for class --form html --form pdf --out pages"
)
def report(
    trials: TrialPaths = None,
    reader: Annotated[Reader, typer.Option("--for", help="Who reads it.")] = Reader.BAKERY,
    form: Annotated[
        list[Form] | None, typer.Option(help="May be given several times; html if silent.")
    ] = None,
    out: Annotated[
        Path, typer.Option(help="Folder for the files; the current one if silent.")
    ] = HERE,
    locale: Locale = "en",
    measure: MeasureName = None,
    matters: Matters = None,
    sheet: Sheet = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: AsJson = False,
) -> None:
    """Write each trial's report, and print its answer and where it is."""
    asked = trials or [HERE]
    names = [trial.resolve().stem.casefold() for trial in asked]
    if len(set(names)) < len(names):
        raise typer.BadParameter(
            "have one name, and so would their reports: write them one at a time, each with an"
            " --out of its own.",
            param_hint="Two of the trials",
        )
    forms = [one.value for one in form or [Form.HTML]]
    style = number_style(locale)

    from .figures.lean import load_lean
    from .second_process import here, second_process

    def read_page() -> None:
        from ..trials.printing.html import page_template

        page_template()

    whole = Form.JSON in (form or [])
    # who is asked what people said, and twice for pictures; a page for the wall shows only these
    questions = len(asked) * (2 if reader is Reader.WALL and not whole else 3)
    with second_process(PICTURES, questions, meanwhile=read_page, first=load_lean) as ask:
        from ..trials import load_trial

        load_little()
        from .report import answered, write_answered

        def reported(trial: Path, head: Callable[[], None]) -> Answered:
            with progress(shown=not (quiet or as_json)) as tell:
                tell("Reading the records")
                records = load_trial(trial, sheet=sheet)
                from .report.pictures import Drawer  # with all that it shows: while the other loads

                drawer = Drawer(reader.value, ask)
                summary = answered(
                    records,
                    reader.value,
                    style,
                    progress=tell,
                    measure=measure,
                    matters=matters,
                    ask=ask,
                    whole=whole,
                    drawer=drawer,
                )
            if not as_json:
                head()
                say(summary.text)
            if ask is here:
                load_lean()
            with progress(shown=not (quiet or as_json)) as tell:
                written = write_answered(summary, out, reader.value, forms, tell, drawer)
            return 0, written.to_dict(), lambda: say(f"\n{written.where}")

        raise typer.Exit(answer_each(asked, reported, as_json))


app.add_typer(cli_tasting.app)


def begin_from(folder: Path, source: Path | None, sheet: str | None, as_json: bool) -> None:
    """Begin a trial from a spreadsheet, or give a folder with records a card; ask where somebody
    sits.
    """
    from ..trials.reading.files import find_files
    from ..trials.writing.starting_from import proposal_for, start_from
    from .wording import beginning as words

    source = source or find_files(folder).paths["loaves"]
    named: dict[str, str] = {}
    if sys.stdin and sys.stdin.isatty() and not as_json:
        for header, how in proposal_for(source, sheet=sheet).unplaced.items():
            said = typer.prompt(words.question(header, how), default="", show_default=False).strip()
            named |= {header: said} if said else {}
    begun = start_from(folder, source, named, sheet=sheet)
    show(words.begun_data(begun) if as_json else words.begun_text(begun, source), as_json)


@contextmanager
def progress(shown: bool) -> Iterator[Callable[[str], None]]:
    """Give a function that says on the error channel what is being done; silent where nobody
    looks.
    """
    if not (shown and sys.stderr and sys.stderr.isatty()):
        yield lambda words: None
        return
    from rich.console import Console

    with Console(stderr=True).status("") as status:
        yield lambda words: status.update(f"{words} …")


def with_only_the_asked(words: Sequence[str]) -> typer.Typer:
    """Return the command line with no command but the one asked for, or whole where none is.

    To make all of them takes a tenth of the time of loading pandas.
    """
    every = (*app.registered_commands, *cli_tasting.app.registered_commands)
    asked = [one for one in every if one.callback and [one.callback.__name__] == list(words[:1])]
    if not asked:
        return app
    lean = copy(app)
    lean.registered_commands, lean.registered_groups = asked, []
    return lean


def main() -> None:
    """Run the command line. What a user's file does wrong is told in plain lines; what is our fault
    is said to be.
    """
    os.environ.setdefault(THREADS, "1")
    # what is loaded stays: looking for rubbish after every 700 objects is a tenth of loading pandas
    gc.set_threshold(50_000)
    # nor is it looked through once more for rubbish at the end, which takes a tenth of it, too
    atexit.register(gc.freeze)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # a code page without − or ░ shows a question mark
            stream.reconfigure(errors="replace")
    try:
        with_only_the_asked(sys.argv[1:])()
    except BrokenPipeError:
        # who read has read enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(STOPPED)
    except Exception as stopped:
        as_json = "--json" in sys.argv
        code, data = tell_stopped(stopped, as_json)
        if as_json and "findings" in data:
            show(data, as_json)
        sys.exit(code)
