"""A trial with factors and no formula is a whole trial: its pages answer from its own numbers;
nothing is missed.
"""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis import compare_formulas, factor_effects
from fairloaf.analysis.factors.how_many import how_many
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.analysis.wording.factors import leading_effect
from fairloaf.trials import load_trial


def bake(folder, effect: float, matters: str, mixes: int = 4, noise: float = 0.12):
    """Write a trial of one dough in two tins, two loaves each from every mix; invented."""
    rng = np.random.default_rng(5)
    rows = []
    for mix in range(mixes):
        shift = rng.normal(0, 0.1)
        for place in range(4):
            rise = 4 + shift + effect * (place % 2) + rng.normal(0, noise)
            rows.append((f"{mix}.{place}", mix, ["low", "high"][place % 2], 400, round(400 * rise)))
    pd.DataFrame(rows, columns=["loaf", "mix", "tin", "loaf_g", "loaf_ml"]).to_csv(
        folder / "loaves.csv", index=False
    )
    card = f'measure = "specific_volume"\n{matters}[factors]\ntin = ["low", "high"]\n'
    (folder / "trial.toml").write_text(card, "utf-8")
    return load_trial(folder)


@pytest.mark.usefixtures("unprinted")
@pytest.mark.parametrize(
    ("effect", "matters", "verdict", "said"),
    [
        (0.6, "matters = 0.2\n", "matters", "Change one more thing"),
        (0.02, "matters = 0.05\n", "not settled", "an 80 % chance to show 0.05 mL/g"),
        (0.3, "", "real; what matters is not said yet", "Agree what difference would matter"),
    ],
)
def test_every_page_has_the_verdict_and_what_to_bake_next(effect, matters, verdict, said, tmp_path):
    summary = summarise(bake(tmp_path, effect, matters))
    for audience in ("class", "bakery", "record"):
        text = str(report_for(summary, audience))
        assert verdict in text, audience
        assert "loaves of two formulas" not in text, audience
        assert "formula column" not in text, audience
        if audience != "record":
            assert said in text, audience
            assert "not sure how large" not in text or matters, audience


def test_how_many_is_more_where_less_matters_and_none_where_it_is_settled(tmp_path):
    def needed(matters):
        f = factor_effects(bake(tmp_path, 0.0, f"matters = {matters}\n"))
        found = how_many(f, leading_effect(f))
        return found and found.needed

    numbers = [needed(m) for m in (0.12, 0.08)]
    assert numbers[0] is None or numbers[1] is None or numbers[0] < numbers[1]
    assert needed(2.0) is None, "no difference of 2 mL/g fits: it is settled"
    f = factor_effects(bake(tmp_path, 0.0, "matters = 0.08\n"))
    found = how_many(f, leading_effect(f))
    assert (found.unit, found.now) == ("loaf", 16)


def test_a_folder_s_name_is_no_trial_and_that_is_said(tmp_path):
    with pytest.raises(TypeError, match=r"write  load_trial\('my_trial'\)  first"):
        compare_formulas("my_trial")


def test_a_trial_shows_itself_in_a_few_lines(tmp_path):
    trial = bake(tmp_path, 0.3, "")
    assert len(repr(trial).splitlines()) == 6
    assert "loaves: 16, 4 mixes" in repr(trial)
    assert "tin (low, high)" in repr(trial)
    html = trial._repr_html_()
    assert "<table>" in html
    assert len(html) < 2000
