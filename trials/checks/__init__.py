"""Whether the records can be trusted: every check in one visible tuple, and the function that asks
them all.
"""

from __future__ import annotations

from ..findings import Finding, worst_first
from ..trial import Trial
from . import (
    answerable,
    copies,
    exchanges,
    far,
    handling,
    identity,
    levels,
    mixes,
    names,
    panel,
    readings,
    scores,
    shifts,
    slips,
    tasting,
    ticks,
    values,
    whole_columns,
)
from .check import Check, Seen, Spot, check

__all__ = ["CHECKS", "Check", "Spot", "check", "run_checks"]

# In the order in which they are asked: a check that leaves out what another one has told comes
# after it.
CHECKS: tuple[Check, ...] = (
    identity.loaves_without_number,
    identity.loaf_numbers_twice,
    identity.voids_without_reason,
    identity.nothing_counted,
    identity.loaves_void,
    answerable.nothing_measured,
    answerable.nothing_changed,
    answerable.headers_not_used,
    answerable.measure_not_said,
    answerable.measures_left_empty,
    names.labels_missing,
    names.dittos,
    names.names_spelled_two_ways,
    names.days_written_two_ways,
    names.names_one_letter_apart,
    levels.factors_without_column,
    levels.levels_not_on_card,
    levels.numbers_off_plan,
    levels.levels_never_baked,
    levels.measure_without_column,
    levels.measures_on_card_without_column,
    levels.control_not_baked,
    mixes.mixes_with_two_formulas,
    mixes.mixes_on_two_days,
    mixes.mix_numbers_restart,
    values.cells_without_number,
    values.void_cells_without_number,
    whole_columns.columns_in_another_unit,
    whole_columns.heights_too_flat,
    slips.values_in_another_unit,
    slips.mass_and_volume_swapped,
    values.values_not_positive,
    values.loaves_that_gained_mass,
    values.more_seed_than_box,
    values.loaves_bigger_than_tin,
    values.volumes_that_disagree,
    values.values_hard_to_believe,
    mixes.mixes_with_two_temperatures,
    far.values_far_off,
    copies.rows_the_same_but_for_the_number,
    copies.rows_like_the_one_above,
    copies.values_copied_down,
    copies.columns_of_one_value,
    copies.columns_the_same,
    exchanges.days_and_months_exchanged,
    exchanges.loaves_that_fit_exchanged,
    shifts.boxes_that_do_not_fit,
    exchanges.mixes_that_fit_exchanged,
    shifts.mixes_and_days_apart,
    exchanges.slips_not_sought,
    handling.measured_at_once,
    handling.days_out_of_order,
    handling.loads_out_of_order,
    handling.cooled_too_briefly,
    handling.losses_that_follow_the_formula,
    values.lids_not_on_card,
    values.tins_not_on_card,
    values.lines_without_values,
    values.values_missing,
    readings.readings_without_number,
    readings.readings_of_no_loaf,
    readings.readings_that_disagree,
    scores.scores_without_number,
    scores.score_labels_missing,
    scores.scores_of_no_loaf,
    scores.score_names_alike,
    scores.scores_given_twice,
    scores.scores_off_scale,
    scores.crumb_off_scale,
    scores.scores_between_steps,
    scores.crumb_between_steps,
    scores.attributes_not_on_card,
    panel.assessors_with_one_score,
    panel.scores_copied,
    panel.assessors_of_one_formula,
    panel.order_follows_formula,
    panel.scored_knowing_the_formula,
    tasting.codes_of_two_loaves,
    tasting.codes_of_no_loaf,
    tasting.tests_unknown,
    tasting.tasters_missing,
    tasting.tasters_alike,
    tasting.groups_alike,
    tasting.codes_unknown,
    tasting.cups_of_another_number,
    tasting.cups_of_the_wrong_breads,
    tasting.answers_not_served,
    tasting.answers_of_another_number,
    tasting.answers_missing,
    tasting.servings_twice,
    tasting.expected_bread_missing,
    tasting.places_uneven,
    tasting.names_of_tasters,
    tasting.people_not_as_planned,
    ticks.lookers_missing,
    ticks.lookers_alike,
    ticks.tables_alike,
    ticks.plates_unknown,
    ticks.looks_at_no_loaf,
    ticks.looks_twice,
    ticks.ticks_unclear,
    ticks.words_not_on_card,
    ticks.names_of_lookers,
    ticks.nothing_ticked,
    ticks.lookers_not_as_planned,
)


def run_checks(trial: Trial) -> tuple[Finding, ...]:
    """Return everything that the checks find in a trial: worst first, then in the order of the
    file.
    """
    seen = Seen(trial)
    findings: list[Finding] = []
    for one in CHECKS:
        if one.applies(trial):
            findings += one.run(seen, (*trial.findings, *findings))
    return worst_first(sorted(findings, key=lambda found: (found.file, min(found.rows, default=0))))
