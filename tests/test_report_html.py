"""The words of every report, and the page that holds them."""

import re
from html.parser import HTMLParser

import pytest
from fairloaf.analysis.report import AUDIENCES, FORMS, write_report
from fairloaf.analysis.report.rendering import render
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.analysis.wording.classroom import class_answer, class_means
from fairloaf.trials import TrialError, load_trial
from fairloaf.trials.printing.document import Answer, Points, Shown, Table, Terms

from .report_examples import EVERY_REPORT, EXAMPLES, ROOT, files, report, summary, trial
from .snapshot import assert_as_kept


def words_of(report):
    """Return everything that a reader reads, as plain text."""
    lines = [report.kicker, report.title, report.facts]
    for section in report.sections:
        lines += ["", f"## {section.heading}"]
        for block in section.blocks:
            lines += _lines(block, report.style)
    return "\n".join(lines) + "\n"


def _lines(block, style):
    if isinstance(block, Table):
        rows = [[c.heading for c in block.columns], *block.texts(style)]
        return [f"[{block.caption}]", *("  " + " | ".join(row) for row in rows)]
    if isinstance(block, Answer):
        return [
            f"> {block.sentence}",
            *(f"> {words}" for words in block.others),
            *(f"> {name}: {mean}" for name, mean in block.numbers),
            f"> {block.verdict}: {block.meaning}",
        ]
    if isinstance(block, Points):
        return [f"- {item}" for item in block.items]
    if isinstance(block, Terms):
        return [f"{word}: {meaning}" for word, meaning in block.pairs]
    if isinstance(block, Shown):
        return [
            f"(picture) {block.alt}",
            *([f"(under it) {block.caption}"] if block.caption else []),
        ]
    return [block.words]


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_the_words_are_those_that_were_kept(name, audience):
    assert_as_kept(f"{name}_{audience}.txt", words_of(report(name, audience)))


@pytest.mark.parametrize(
    "name", [pytest.param("small_bakery", marks=pytest.mark.benchmark), *EXAMPLES[1:]]
)
def test_the_same_trial_gives_the_same_bytes_in_every_form(name):
    """Read again, worked out again, drawn again, written again: nothing may depend on the hour or
    on chance.
    """
    again = summarise(load_trial(ROOT / "example_trials" / name))
    for audience in AUDIENCES:
        redrawn = report_for(again, audience)
        for form in FORMS:
            assert render(form, redrawn, again) == files(name, audience)[form], (audience, form)


class _Outline(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags = []
        self.links = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.links += [
            value
            for key, value in attrs
            if key in {"href", "src", "action", "xlink:href", "srcset"}
        ]


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_a_page_holds_no_script_and_points_nowhere_outside(name, audience):
    outline = _Outline()
    outline.feed(files(name, audience)["html"].decode("utf-8"))
    assert not {"script", "iframe", "object", "embed", "form", "img", "base"} & set(outline.tags)
    assert [link for link in outline.links if not link.startswith(("#", "data:,"))] == []


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_no_id_comes_twice(name, audience):
    ids = re.findall(r'\sid="([^"]*)"', files(name, audience)["html"].decode("utf-8"))
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_reader_gets_the_same_answer(name):
    """Bakery and file the same sentence; class and wall one in plainer words, by one verdict."""
    told = {
        audience: [
            b for s in report(name, audience).sections for b in s.blocks if isinstance(b, Answer)
        ]
        for audience in AUDIENCES
    }
    assert all(len(answers) == 1 for answers in told.values())
    s, c = summary(name), summary(name).comparison
    assert {told[audience][0].verdict for audience in AUDIENCES} == {s.verdict_label}
    for audience in ("bakery", "record"):
        assert told[audience][0].sentence == s.answer
    for audience in ("class", "wall"):
        plain = told[audience][0]
        assert plain.sentence == (class_answer(c, s.style) if c else s.answer)
        assert plain.numbers == (class_means(c, s.style) if c else ())
        assert report(name, audience).sections[0].blocks[1] is plain


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_page_says_version_settings_and_fingerprint(name):
    """The checksums stand on the record's page, and on no other."""
    page, record = ("\n".join(report(name, audience).imprint) for audience in ("class", "record"))
    assert f"measure {summary(name).measure}" in page
    assert "SHA-256" not in page
    for file, digest in trial(name).sources.items():
        assert f"{file}: SHA-256 {digest}" in record


@pytest.mark.parametrize("audience", ["class", "bakery", "record"])
def test_cautions_stand_in_every_report_and_defer_to_local_rules(audience):
    said = words_of(report("small_bakery", audience))
    assert "Raw flour and dough are not tasted" in said
    assert "allergens are listed" in said
    assert "Local food-safety rules and trained staff come before" in said


def test_records_that_cannot_be_analysed_leave_nothing_behind(tmp_path):
    with pytest.raises(TrialError, match="loaf"):
        write_report(load_trial(ROOT / "example_trials" / "everyday_mess"), tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"audience": "boss"}, "no such audience: 'boss'; there are: class"),
        ({"forms": ("html", "doc")}, "no such form: 'doc'; there are: html"),
    ],
)
def test_a_reader_or_form_that_is_not_there_is_named(tmp_path, wrong, message):
    with pytest.raises(ValueError, match=message):
        write_report(trial("class_bake"), tmp_path, **wrong)


def test_steps_are_told_and_the_files_are_named(tmp_path):
    told = []
    forms = ("html", "json")
    written = write_report(
        trial("open_and_lidded"), tmp_path / "new", forms=forms, progress=told.append
    )
    assert [path.name for path in written.files] == [
        "open_and_lidded-bakery.html",
        "open_and_lidded-bakery.json",
    ]
    for path in written.files:
        assert path.read_bytes() == files("open_and_lidded", "bakery")[path.suffix[1:]]
    assert "Writing the page" in told
    assert written.text.startswith(summary("open_and_lidded").answer)
    assert str(written.files[0]) in written.text
