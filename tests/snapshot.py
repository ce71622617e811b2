"""Kept words and data, to see what a change of ours changes for the reader.

``UPDATE_SNAPSHOTS=1 pytest tests/test_report_html.py tests/test_report_json.py`` writes them anew;
read the difference before you commit it.
"""

import os
from pathlib import Path

FOLDER = Path(__file__).parent / "snapshots"


def assert_as_kept(name, text):
    """Assert that a text is the one that was kept under this name."""
    kept = FOLDER / name
    if os.environ.get("UPDATE_SNAPSHOTS"):
        kept.write_text(text, "utf-8")
    assert kept.exists(), (
        f"nothing kept as {kept.name}; see {Path(__file__).name} for how to write it"
    )
    assert text == kept.read_text("utf-8")
