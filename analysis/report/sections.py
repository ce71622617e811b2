"""What each reader is told, and in which order: the same results at three depths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from math import isnan

from ...trials import Finding, TrialError
from ...trials.columns import label, label_inside
from ...trials.printing.document import (
    Answer,
    Block,
    Points,
    Report,
    Section,
    Shown,
    Table,
    Terms,
    Text,
)
from ..answers import measures_grid
from ..comparison.fair_test import IN_MODEL, KEPT_LOAF
from ..factors.how_many import how_many
from ..wording import background, classroom
from ..wording import report as words
from ..wording.codes import adjustment_words
from ..wording.comparison import (
    comparison_lines,
    control_lines,
    left_out_line,
    means_apart_line,
    percent_line,
    settle_lines,
    steadiness_lines,
)
from ..wording.crumb import other_lines
from ..wording.factor_limits import next_of_what_cannot_be_judged, why_not_judged
from ..wording.factors import factor_words, how_many_words, leading_effect, other_effects
from ..wording.layout import layout_sentences
from ..wording.tasting import caution_lines, headlines
from ..wording.words import words_headlines
from . import (
    comparison_tables,
    crumb_tables,
    factor_tables,
    pictures,
    record_tables,
    tasting_tables,
)
from .summary import Summary

# of a section: what it says, or who draws it
Part = Block | pictures.Drawing | None
Builder = Callable[[Summary], list[Part]]
Draw = Callable[[Summary, Sequence[pictures.Drawing]], list[list[Shown]]]


def report_for(summary: Summary, audience: str, draw: Draw = pictures.drawn) -> Report:
    """Return the report for "class", "bakery" or "record"; sections with nothing to say are left
    out. Its pictures are drawn last.
    """
    trial, card = summary.trial, summary.trial.card
    built = [(id_, builder(summary)) for id_, builder in AUDIENCES[audience]]
    drawings = [part for _, parts in built for part in parts if callable(part)]
    shown = iter(draw(summary, drawings))
    sections = []
    for id_, parts in built:
        blocks = tuple(
            block
            for part in parts
            if part is not None
            for block in (next(shown) if callable(part) else [part])
        )
        if blocks:
            sections.append(Section(id_, words.section_heading(audience, id_), blocks))
    return Report(
        title=card.title or trial.name,
        kicker=words.KICKERS[audience],
        facts=words.facts(trial),
        audience=audience,
        sections=tuple(sections),
        style=summary.style,
        scrolls=words.SCROLLS,
        beside=_beside(summary) if audience == "bakery" else (),
        imprint=words.imprint(
            version("fairloaf"),
            summary.confidence,
            summary.measure,
            card.matters_for(summary.measure),
            trial.sources if audience == "record" else {},
            summary.style,
        ),
    )


def _beside(s: Summary) -> tuple[Table, ...]:
    """Return the tables of scores and factors, which a short page shows as pictures alone."""
    made = []
    if s.comparison is not None and s.factors is not None and not s.factors.effects.empty:
        made.append(factor_tables.effects_table(s.factors, s.style))
    if s.factors is not None:
        made.append(factor_tables.factor_means_table(s.factors, s.style))
    if s.crumb is not None:
        made.append(crumb_tables.attributes_table(s.crumb))
    return tuple(table for table in made if table.rows)


# --- What was asked and found ------------------------------------------------------------------


def question(s: Summary) -> list[Part]:
    """The question as the card asks it."""
    return [Text(s.trial.card.question or words.no_question(s.trial, s.measure), "lead")]


def answer(s: Summary) -> list[Part]:
    """The question, the answer in one sentence with its verdict, and the picture that shows it."""
    return [*question(s), _answer(s, words.VERDICTS), pictures.main]


def whole_answer(s: Summary) -> list[Part]:
    """The same, with the other formulas that the question is about beside the first."""
    asked, told, picture = answer(s)
    if s.comparison is not None and isinstance(told, Answer):
        told = replace(told, others=tuple(control_lines(s.comparison, s.style)))
    return [asked, told, picture]


def found(s: Summary) -> list[Part]:
    """The answer for a class: the question, each bread's mean and what became of the others, and
    the picture.
    """
    c = s.comparison
    if c is None:
        others = _other_factors(s)
        return [*question(s), replace(_answer(s, ()), others=others), pictures.pairs]
    told = Answer(
        classroom.class_answer(c, s.style),
        s.verdict_label,
        "",
        others=(*classroom.class_others(c, s.style), *filter(None, [means_apart_line(c, s.style)])),
        numbers=classroom.class_means(c, s.style),
    )
    return [*question(s), told, pictures.pairs]


def _other_factors(s: Summary) -> tuple[str, ...]:
    """The other factors, and why the breads could not be compared, where the factors lead."""
    if s.factors is None:
        return ()
    reason = [words.breads_not_compared(s.unanswered["comparison"])] if s.has_formulas else []
    return (*other_effects(s.factors, s.style), *reason)


def _answer(s: Summary, ladder: tuple[str, ...]) -> Answer:
    if s.verdict is None:
        return Answer(s.answer, "", "")
    asked, undone = s.asked, s.undone_by
    meaning = words.verdict_meaning(s.verdict, asked) if ladder else ""
    if ladder and undone:
        meaning = words.undone_meaning(undone)
    return Answer(
        s.answer, s.verdict_label, meaning, tuple(words.verdict_label(one, asked) for one in ladder)
    )


def changed(s: Summary) -> list[Part]:
    """What was changed on purpose."""
    return [Text(words.what_was_changed(s.trial, s.style))]


def kept(s: Summary) -> list[Part]:
    """What was kept the same, and what was not."""
    if s.comparison is None:
        return []
    fairness = s.comparison.fairness
    table, apart, about = fairness.table, fairness.apart, fairness.about_kept
    drifted = (table["status"] == "drifted") & ~about
    within = drifted & (table["handled"] == IN_MODEL)
    groups = (table["status"] == "kept the same", about, within, drifted & ~within & ~apart, apart)
    card = s.trial.card
    same, about_same, inside, varied, unlike = (
        [label_inside(str(name), card) for name in table.loc[which, "condition"]]
        for which in groups
    )
    return [Text(words.what_was_kept(same, about_same, inside, varied, unlike, KEPT_LOAF))]


def measured(s: Summary) -> list[Part]:
    """What was measured, and which loaves were left out of the answer."""
    gone = left_out_line(s.comparison) if s.comparison else ""
    return (
        [Text(f"{words.what_was_measured(s.measure, s.trial)} {gone}".strip())] if s.measure else []
    )


def sure(s: Summary) -> list[Part]:
    """Can we be sure, for a class."""
    c = s.comparison
    said = classroom.class_sure(c, s.asked, s.style) if c else sure_of_factors(s)
    mind: list[Part] = [Text(words.MIND), Points(s.warnings)] if s.warnings else []
    return [Text(said), *mind]


def try_next(s: Summary) -> list[Part]:
    """What a class may try next."""
    c = s.comparison
    if c is None:
        return [Text(" ".join(next_for_factors(s)))]
    return [Text(classroom.class_next(c, s.asked, s.style))]


# --- The numbers -------------------------------------------------------------------------------


def numbers(s: Summary) -> list[Part]:
    """How large, how sure: the formulas' means, their differences, and the measuring error beside
    them.
    """
    c = s.comparison
    if c is None:
        return factor_numbers(s)
    return [
        pictures.few_zones,
        comparison_tables.means_table(c),
        *_means_apart(s),
        comparison_tables.pairs_table(c) if len(c.pairs) > 1 else None,
        *map(Text, filter(None, [percent_line(c, s.style), left_out_line(c)])),
        measuring(s),
    ]


def _means_apart(s: Summary) -> list[Part]:
    """That the difference is not that of the means beside it, where it is not."""
    said = means_apart_line(s.comparison, s.style) if s.comparison else ""
    return [Text(said, "small")] if said else []


def factor_numbers(s: Summary) -> list[Part]:
    """The factors by size, where no formulas could be compared, and why they could not."""
    f = s.factors
    table = (
        factor_tables.effects_table(f, s.style) if f is not None and not f.effects.empty else None
    )
    return [table, *formulas_not_compared(s)]


def formulas_not_compared(s: Summary) -> list[Part]:
    """Why the formulas were not compared; nothing where the trial is one of other factors."""
    return [Text(words.not_answered(s.unanswered["comparison"]), "small")] if s.has_formulas else []


def sure_of_factors(s: Summary) -> str:
    """Can we be sure of what a factor did."""
    if why := not_judged(s):
        return words.cannot_be_sure(why)
    if s.verdict is None:
        return words.SURE_OF_FACTORS
    if s.undone_by:
        return words.not_sure_beside(s.undone_by, "the two")
    if s.inseparable_from:
        return words.only_if(s.inseparable_from, "the two")
    said = [words.sure_of_a_factor(s.verdict, s.asked), *_of_that_alone(s), words.SURE_OF_FACTORS]
    return " ".join(said)


def _of_that_alone(s: Summary) -> list[str]:
    """Of which of several factors it is sure, and of which nothing is, with the reason."""
    f = s.factors
    effect = leading_effect(f) if f is not None else None
    if f is None or effect is None or len(f.factors) < 2:
        return []
    unknown = [factor_words(f, name) for name in f.not_judged]
    why = why_not_judged(f) if unknown else ()
    return [words.of_one_factor(factor_words(f, effect["factor"]), unknown), *why]


def not_judged(s: Summary) -> tuple[str, ...]:
    """Why nobody can be sure of the factor that is told first; empty where its range is known."""
    if s.factors is None:
        return ()
    effect = leading_effect(s.factors)
    return why_not_judged(s.factors) if effect is None or isnan(effect["ci_low"]) else ()


def next_for_factors(s: Summary) -> list[str]:
    """What to bake next, from the numbers of the factor that is told first."""
    if s.factors is not None and not_judged(s):
        return [*next_of_what_cannot_be_judged(s.factors)] or [words.TRY_AGAIN]
    if s.factors is None or s.verdict is None:
        return [words.TRY_AGAIN]
    if apart := [*s.undone_by, *s.inseparable_from]:
        return [words.bake_alike(apart, "both")]
    effect = leading_effect(s.factors)
    found = how_many(s.factors, effect) if effect is not None else None
    more = how_many_words(s.factors, found, s.style)
    unknown = s.factors.not_judged
    apart_first = next_of_what_cannot_be_judged(s.factors) if unknown else ()
    tried = words.what_to_try_of_a_factor(s.verdict, s.asked)
    return [*apart_first, tried, *([more] if more else [])]


def exact_numbers(s: Summary) -> list[Part]:
    """The same with standard errors, degrees of freedom, p-values and the second opinion."""
    c = s.comparison
    if c is None:
        return formulas_not_compared(s)
    return [
        pictures.zones,
        comparison_tables.means_table(c),
        *_means_apart(s),
        comparison_tables.pairs_table(c, exact=True),
        *map(Text, comparison_lines(c, s.style)),
        measuring(s),
    ]


def measuring(s: Summary) -> Text | None:
    """How the difference stands beside the measuring error."""
    c = s.comparison
    if c is None:
        return None
    return Text(words.measuring_sentence(s.measuring, c.difference, c.unit, c.label, s.style))


def conditions(s: Summary) -> list[Part]:
    """The difference under each tin, proof time, and so on."""
    c = s.comparison
    if c is None or c.by_level.empty:
        return []
    return [comparison_tables.levels_table(c, s.style)]


def factors(s: Summary) -> list[Part]:
    """Which factor changed the loaf."""
    f = s.factors
    if f is None or (len(f.factors) < 2 and s.comparison is not None):
        return []
    if s.comparison is None:
        return [Points(f.sentences[1:]), pictures.effects if len(f.factors) > 1 else None]
    return [Text(f.sentence), pictures.effects]


def trade_offs(s: Summary) -> list[Part]:
    """What else differed, measure by measure."""
    if not s.others or s.comparison is None:
        return []
    return [
        comparison_tables.measures_table((s.comparison, *s.others)),
        Text(words.EACH_ALONE, "small"),
        *_unanswered_measures(s),
    ]


def _unanswered_measures(s: Summary) -> list[Part]:
    return [
        Text(f"{label(part, s.trial.card)}: {reason}", "small")
        for part, reason in s.unanswered.items()
        if part not in ("comparison", "factors", "crumb")
    ]


def crumb(s: Summary) -> list[Part]:
    """What the crumb scores say."""
    if s.crumb is None:
        return [Text(words.not_answered(s.unanswered["crumb"]))] if "crumb" in s.unanswered else []
    said = [s.crumb.sentence, *other_lines(s.crumb, s.style)]
    return [Text(" ".join(said)), pictures.surest_scores]


def scored(s: Summary) -> list[Part]:
    """What the scores say, for a class that gave them."""
    if s.crumb is None:
        return []
    return [Points(classroom.class_scores(s.crumb, s.style))]


def tasted(s: Summary) -> list[Part]:
    """Whether people can tell, in short, with the picture and the cautions of a tasting."""
    if s.tasting is None:
        return _not_answered(s, "tasting")
    return [*map(Text, headlines(s.tasting, s.style)), pictures.tasting, _tasting_cautions(s)]


def whole_tasting(s: Summary) -> list[Part]:
    """Everything about the servings."""
    if s.tasting is None:
        return _not_answered(s, "tasting")
    made = (
        tasting_tables.telling_table(s.tasting, exact=True),
        tasting_tables.preferences_table(s.tasting),
        tasting_tables.ranking_table(s.tasting),
    )
    return [
        Points(s.tasting.sentences),
        pictures.tasting,
        *(table for table in made if table.rows),
        _tasting_cautions(s),
    ]


def ticked(s: Summary) -> list[Part]:
    """Which words tell the breads apart, in short."""
    if s.seen is None:
        return _not_answered(s, "seen")
    answer, *meant = words_headlines(s.seen, s.style)
    return [
        Text(answer),
        partial(pictures.words_seen, most=1),
        Text(" ".join(meant)),
        *_cautions_of_ticking(s),
    ]


def whole_ticked(s: Summary) -> list[Part]:
    """Everything about the words."""
    if s.seen is None:
        return _not_answered(s, "seen")
    made = (tasting_tables.words_table(s.seen), tasting_tables.word_pairs_table(s.seen))
    return [
        Points(s.seen.sentences),
        pictures.words_seen,
        *(table for table in made if table.rows),
        *_cautions_of_ticking(s),
    ]


def _cautions_of_ticking(s: Summary) -> list[Part]:
    """The allergens and what else whoever tastes is told, where no tasting said so before."""
    return [_tasting_cautions(s)] if s.tasting is None else []


def _not_answered(s: Summary, part: str) -> list[Part]:
    return [Text(words.not_answered(s.unanswered[part]))] if part in s.unanswered else []


def _tasting_cautions(s: Summary) -> Text:
    return Text(" ".join(caution_lines(s.trial.card.tasting.allergens)), "caution")


def formulas(s: Summary) -> list[Part]:
    """The formulas side by side."""
    return [record_tables.formulas_table(s.trial.card.formulas)] if s.trial.card.formulas else []


# --- Can it be trusted -------------------------------------------------------------------------


def fair(s: Summary) -> list[Part]:
    """Was it a fair test: what drifted, and what speaks against the comparison."""
    c = s.comparison
    speaks = _speaking((*s.trial.findings, *(c.findings if c else ())))
    apart = comparison_tables.fair_table(c, only_unlike=True) if c else None
    return [
        *kept(s),
        *([apart, *_range_of_one(s)] if apart and apart.rows else []),
        Points(speaks) if speaks else Text(words.NO_FINDINGS if c else words.NO_FINDINGS_AT_ALL),
    ]


def _range_of_one(s: Summary) -> list[Part]:
    """Which range the adjusted differences have, where the answer's own allows for several
    pairs.
    """
    several = s.comparison is not None and s.comparison.adjustment != "none"
    return (
        [Text(words.RANGE_OF_ONE.format(adjustment_words(s.comparison.adjustment)), "small")]
        if several and s.comparison
        else []
    )


def _speaking(findings: tuple[Finding, ...]) -> tuple[str, ...]:
    return tuple(f"{f.message} {f.fix}".strip() for f in findings if f.severity != "note")


def surer(s: Summary) -> list[Part]:
    """What it would take to be surer, and who decides."""
    c = s.comparison
    lines = (
        [*settle_lines(c, s.style), *steadiness_lines(c)]
        if c
        else [sure_of_factors(s), *next_for_factors(s)]
    )
    return [*map(Text, lines), Text(words.DECISION)]


def how(s: Summary) -> list[Part]:
    """How it was worked out, in short."""
    return [Text(words.HOW_SHORT), Text(words.MORE_IN_RECORD, "small")]


def cautions(audience: str) -> Builder:
    """The cautions of this kind of work."""
    sentences = " ".join(background.CAUTIONS[code] for code in background.CAUTIONS_FOR[audience])
    return lambda s: [Text(sentences, "caution")]


def short_glossary(s: Summary) -> list[Part]:
    """The words that a class meets on its page."""
    words_used = background.words_for_a_class(s.measure)
    return [Terms(tuple((word, background.GLOSSARY[word]) for word in words_used))]


def glossary(s: Summary) -> list[Part]:
    """Every word explained."""
    return [Terms(tuple(background.GLOSSARY.items()))]


# --- Everything, for the file ------------------------------------------------------------------


def whole_fair_test(s: Summary) -> list[Part]:
    """The fair-test table, and whether the answer hangs on one mix or day."""
    c = s.comparison
    if c is None:
        return []
    return [
        Text(words.FAIR_INTRO),
        comparison_tables.fair_table(c),
        *_range_of_one(s),
        pictures.order,
        *map(Text, steadiness_lines(c)),
        comparison_tables.steadiness_table(c),
        *map(Text, settle_lines(c, s.style)),
        comparison_tables.settle_table(c),
    ]


def layout(s: Summary) -> list[Part]:
    """What was applied to what, and what cannot be told apart."""
    f = s.factors
    if f is None:
        return [Text(words.not_answered(s.unanswered["factors"]))]
    return [
        Points(layout_sentences(f.layout, f.factor_labels, s.style)),
        pictures.layout,
        factor_tables.layout_table(f, s.style),
        factor_tables.units_table(f),
    ]


def tests(s: Summary) -> list[Part]:
    """Every test, mean, pair and variance of the factors."""
    f = s.factors
    if f is None:
        return []
    made = (
        factor_tables.effects_table(f, s.style),
        factor_tables.tests_table(f),
        factor_tables.factor_means_table(f, s.style),
        factor_tables.contrasts_table(f, s.style),
        factor_tables.variances_table(f),
    )
    return [
        Points(f.sentences),
        pictures.factors,
        *(table for table in made if table.rows),
        pictures.sources,
        *_every_measure(s),
    ]


def _every_measure(s: Summary) -> list[Part]:
    """What each factor did to each measure, where there is more than one."""
    try:
        grid = measures_grid(s.trial, confidence=s.confidence, style=s.style)
    except TrialError:
        return []  # the summary has said why
    if len(grid.measures) - len(grid.not_answered) < 2:
        return []
    return [factor_tables.grid_table(grid, s.style), Points(grid.sentences)]


def model(s: Summary) -> list[Part]:
    """Did the model hold: residuals of loaves and mixes."""
    f = s.factors
    if f is None or f.residual_checks is None:
        return []
    return [pictures.residuals, factor_tables.strange_table(f.residual_checks, f.unit)]


def whole_crumb(s: Summary) -> list[Part]:
    """Everything about the scores."""
    if s.crumb is None:
        return crumb(s)
    made = [
        crumb_tables.attributes_table(s.crumb, exact=True),
        crumb_tables.agreement_table(s.crumb),
        crumb_tables.assessors_table(s.crumb),
    ]
    return [
        Points(s.crumb.sentences),
        pictures.scores,
        pictures.every_score,
        pictures.assessors,
        *(table for table in made if table.rows),
    ]


def records(s: Summary) -> list[Part]:
    """What the checks found, what was assumed, which loaves were left out, and each loaf."""
    trial = s.trial
    findings = list(
        dict.fromkeys((*trial.findings, *(s.comparison.findings if s.comparison else ())))
    )
    left_out = comparison_tables.left_out_table(s.comparison) if s.comparison else None
    return [
        record_tables.findings_table(findings) if findings else Text(words.NO_FINDINGS),
        Points(trial.assumptions) if trial.assumptions else Text(words.NOTHING_ASSUMED),
        left_out if left_out and left_out.rows else Text(words.ALL_LOAVES_USED),
        record_tables.loaves_table(trial, (s.measure, *(c.measure for c in s.others))),
    ]


def methods(s: Summary) -> list[Part]:
    """How it was worked out, with the published sources."""
    return [Points(background.method_lines(used_methods(s)))]


def used_methods(s: Summary) -> tuple[str, ...]:
    """Return the codes of the methods that this report rests on."""
    used = ["volume", "bake loss", "mix", "reml", "marginal", "verdict", "holm", "colours"]
    c, f = s.comparison, s.factors
    if c is not None:
        ways = {
            "means": c.way == "means",
            "percent": c.percent is not None,
            "dunnett": c.adjustment == "Dunnett",
            "tukey": c.adjustment == "Tukey",
            "between": bool(c.between),
            "randomisation": c.second_opinion is not None,
        }
        used += [code for code, there in ways.items() if there]
    if f is not None:
        used += ["tukey"] if (f.contrasts["adjustment"] == "Tukey").any() else []
        used += ["lenth"] if f.unreplicated is not None else []
    used += ["measuring"] if s.measuring is not None else []
    used += ["scores"] if s.crumb is not None else []
    used += ["tasting"] if s.tasting is not None else []
    used += ["ticks"] if s.seen is not None else []
    return tuple(used)


AUDIENCES: dict[str, tuple[tuple[str, Builder], ...]] = {
    "class": (
        ("found", found),
        ("sure", sure),
        ("crumb", scored),
        ("tasting", tasted),
        ("seen", ticked),
        ("changed", changed),
        ("kept", kept),
        ("measured", measured),
        ("next", try_next),
        ("words", short_glossary),
        ("cautions", cautions("class")),
    ),
    "wall": (("found", found), ("sure", sure), ("cautions", cautions("wall"))),
    "bakery": (
        ("answer", whole_answer),
        ("numbers", numbers),
        ("conditions", conditions),
        ("measures", trade_offs),
        ("factors", factors),
        ("crumb", crumb),
        ("tasting", tasted),
        ("seen", ticked),
        ("formulas", formulas),
        ("fair", fair),
        ("next", surer),
        ("how", how),
        ("cautions", cautions("bakery")),
    ),
    "record": (
        ("answer", answer),
        ("numbers", exact_numbers),
        ("conditions", conditions),
        ("measures", trade_offs),
        ("factors", tests),
        ("crumb", whole_crumb),
        ("tasting", whole_tasting),
        ("seen", whole_ticked),
        ("formulas", formulas),
        ("fair", whole_fair_test),
        ("layout", layout),
        ("model", model),
        ("records", records),
        ("how", methods),
        ("words", glossary),
        ("cautions", cautions("record")),
    ),
}
