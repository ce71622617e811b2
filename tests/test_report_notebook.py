"""Results show themselves at the end of a notebook's cell: the answer, a table and a picture, all
as safe HTML.
"""

from html import unescape

import pytest

from .report_examples import summary

RESULTS = ["comparison", "factors", "crumb"]


@pytest.mark.parametrize("part", RESULTS)
def test_a_result_shows_answer_table_and_picture(part):
    result = getattr(summary("small_bakery"), part)
    html = result._repr_html_()
    sentence = result.sentences[0] if part == "crumb" else result.sentence
    assert sentence in unescape(html)
    assert "<table>" in html
    assert html.count("<svg ") == 1
    assert "<script" not in html


def test_factors_show_themselves_where_no_formulas_were_compared():
    assert "<table>" in summary("open_and_lidded").factors._repr_html_()
