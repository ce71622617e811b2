"""Findings as people read them: a table on a terminal, lines that grep reads in a pipe, nothing
smuggled in.
"""

from __future__ import annotations

import io

import pandas as pd
import pytest
from fairloaf.analysis.wording.findings import (
    HEADINGS,
    MOST_SHOWN,
    checks_text,
    findings_lines,
    headline,
    plain_text,
    print_findings,
    print_stop,
    tidy_text,
)
from fairloaf.trials import Finding
from fairloaf.trials.checks import CHECKS
from fairloaf.trials.fairness.check_list import describe_checks
from fairloaf.trials.writing.tidy import TidyCopy
from rich.console import Console


def finding(severity: str = "error", **changes: object) -> Finding:
    values = {
        "code": "slip-unit",
        "message": "Baked mass is 1000 times too small on line 6 (0.406).",
        "fix": "Write it in g.",
        "why": "It decides the answer.",
        "rows": (6,),
        "file": "loaves.csv",
        "column": "loaf_g",
    }
    return Finding(severity=severity, **(values | changes))


def printed(findings, assumptions=(), terminal=True, width=100) -> str:
    out = io.StringIO()
    console = Console(
        file=out, force_terminal=terminal, color_system=None, width=width, markup=False
    )
    print_findings(findings, assumptions, name="bake", n_loaves=24, console=console)
    return out.getvalue()


def test_a_pipe_gets_one_line_a_finding_with_tabs_between():
    text = printed(
        [finding(rows=(6, 9)), finding("note", file="", rows=(), column="")],
        ["commas"],
        terminal=False,
    )
    assert text.splitlines() == [
        "bake: 24 loaves, 1 error and 1 note.",
        (
            "error\tloaves.csv:6,9\tloaf_g\tslip-unit\tBaked mass is 1000 times too small on line 6"
            " (0.406).\tWrite it in g."
        ),
        (
            "note\t\t\tslip-unit\tBaked mass is 1000 times too small on line 6 (0.406).\tWrite it"
            " in g."
        ),
        "assumed\tcommas",
    ]


def test_where_standard_output_is_closed_nothing_is_printed_and_nothing_fails(monkeypatch, capsys):
    """As of  fairloaf check trial >&-,  where Python gives None."""
    monkeypatch.setattr("sys.stdout", None)
    print_findings([finding()], name="trial", n_loaves=4)
    assert capsys.readouterr() == ("", "")


def test_a_pipe_names_twenty_lines_and_counts_the_rest():
    place = findings_lines([finding(rows=tuple(range(1, 201)))])[0].split("\t")[1]
    assert place == f"loaves.csv:{','.join(map(str, range(1, 21)))},+180"


def test_a_long_line_is_not_broken_in_a_pipe():
    text = printed([finding(message="long " * 100)], terminal=False, width=40)
    assert len(text.splitlines()) == 2


def test_a_terminal_gets_where_what_why_and_what_to_do_under_a_heading_a_severity():
    text = printed(
        [finding(), finding("warning"), finding("note")], ["the comma is a decimal mark."]
    )
    assert text.startswith("bake: 24 loaves, 1 error, 1 warning and 1 note.\n")
    places = [text.index(heading) for heading in HEADINGS.values()]
    assert places == sorted(places)
    for part in ("loaves.csv", "\nline 6 ", "loaf_g", "It decides the answer.", "Write it in g."):
        assert text.count(part) == 3
    assert text.rstrip().endswith("Assumed: the comma is a decimal mark.")


def test_much_is_cut_to_a_screen_and_the_rest_is_counted():
    text = printed([finding()] * (MOST_SHOWN + 7))
    assert text.count("loaf_g") == MOST_SHOWN
    assert text.rstrip().endswith("and 7 more: put these right first, or see all with  --json")


def test_nothing_found_is_said():
    assert headline([], "bake", 1) == "bake: 1 loaf, and nothing to say against the records."


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("a\x1b[31mb", "a\ufffd[31mb"),
        ("a\tb\nc", "a b c"),
        ("a\u202eb", "a\ufffdb"),
        ("[bold]é – 1°[/]", "[bold]é – 1°[/]"),
    ],
)
def test_cells_cannot_write_to_the_terminal(raw, shown):
    assert plain_text(raw) == shown
    assert shown in printed([finding(message=raw)])
    assert shown in findings_lines([finding(message=raw)])[0]


def test_every_check_is_listed_with_its_severity_question_and_reason():
    text = checks_text(describe_checks())
    for check in CHECKS:
        assert check.title in text
        assert check.why in text
    assert "loaf-twice" in text


def test_a_tidy_copy_tells_its_changes(tmp_path):
    one = {"column": "loaf_g", "was": "0,402 kg", "now": "402", "why": "kg to g"}
    changes = pd.DataFrame([{"line": line} | one for line in range(2, 14)])
    text = tidy_text(
        TidyCopy(file="loaves.csv", table=pd.DataFrame(), changes=changes), tmp_path / "clean.csv"
    )
    head, first, *_, last = text.splitlines()
    assert (
        head == f"{tmp_path / 'clean.csv'} is a clean copy of loaves.csv with 12 changes, "
        f"all in {tmp_path / 'clean_changes.csv'}:"
    )
    assert first == "  line 2, loaf_g: '0,402 kg' → '402' (kg to g)"
    assert last == "  and 4 more"


def test_a_tidy_copy_without_changes_says_so(tmp_path):
    changes = pd.DataFrame(columns=["line", "column", "was", "now", "why"])
    text = tidy_text(
        TidyCopy(file="loaves.csv", table=pd.DataFrame(), changes=changes), tmp_path / "clean.csv"
    )
    assert text == f"{tmp_path / 'clean.csv'} is a copy of loaves.csv; nothing had to be changed."


def test_what_stops_an_answer_is_a_table_on_a_terminal_whose_lines_can_be_copied():
    stop = finding(fix="Copy to the end of the card:\n[kitchen]\ndays = 4")
    out = io.StringIO()
    print_stop([stop], Console(file=out, force_terminal=True, color_system=None, width=100))
    lines = [line.split() for line in out.getvalue().splitlines()]
    assert [words[-1] for words in lines if words][-2:] == ["[kitchen]", "4"]
    piped = io.StringIO()
    print_stop([stop], Console(file=piped, force_terminal=False))
    assert piped.getvalue() == f"{findings_lines([stop])[0]}\n"
