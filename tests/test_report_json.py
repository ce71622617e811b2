"""The report as data: valid against the schema that the package keeps, whole, and the same as the
page.
"""

import json
import math
from importlib.resources import files as package_files

import jsonschema
import pytest

from .report_examples import EVERY_REPORT, EXAMPLES, files, summary, trial
from .snapshot import assert_as_kept

SCHEMA = json.loads(
    package_files("fairloaf.analysis.report").joinpath("report.schema.json").read_text("utf-8")
)


def data(name, audience="record"):
    """Return an example's report as data; JSON's own rules (no NaN) are held to."""
    return json.loads(
        files(name, audience)["json"], parse_constant=lambda word: pytest.fail(f"{word} is no JSON")
    )


def rounded(value):
    """Return data with numbers at five significant digits: what a change of machine must not
    change.
    """
    if isinstance(value, float):
        return float(f"{value:.5g}") if math.isfinite(value) and abs(value) > 1e-9 else 0.0
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    return [rounded(item) for item in value] if isinstance(value, list) else value


def faults(value):
    """Return what the schema has against a value, in short."""
    return [
        fault.message[:200] for fault in jsonschema.Draft202012Validator(SCHEMA).iter_errors(value)
    ]


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_the_data_are_as_the_schema_says(name, audience):
    assert faults(data(name, audience)) == []


def test_the_schema_refuses_what_is_not_a_report():
    assert "'probably' is not valid" in faults(data("class_bake") | {"verdict": "probably"})[0]
    assert "'surprise' was unexpected" in faults(data("class_bake") | {"surprise": 1})[0]
    assert "'answer' is a required property" in faults({"format": 1})


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_data_are_those_that_were_kept(name):
    kept = {
        key: value
        for key, value in rounded(data(name)).items()
        if key not in ("loaves", "version", "made_by")
    }
    assert_as_kept(f"{name}.json", json.dumps(kept, indent=1, ensure_ascii=False) + "\n")


@pytest.mark.parametrize("name", EXAMPLES)
def test_readers_differ_in_words_only(name):
    whole = [
        {k: v for k, v in data(name, a).items() if k not in ("audience", "sections")}
        for a in ("class", "bakery", "record")
    ]
    assert whole[0] == whole[1] == whole[2]


@pytest.mark.parametrize("name", EXAMPLES)
def test_results_keep_ten_digits(name):
    c = summary(name).comparison
    got = data(name)
    assert got["trial"]["n_loaves"] == len(trial(name).counted)
    if c is None:
        assert got["comparison"] is None
        assert got["unanswered"]["comparison"]
    else:
        assert got["comparison"]["difference"] == pytest.approx(c.difference, rel=1e-9)
