"""From bytes to named columns in canonical units.

Read in this order: ``files``, ``csv_text`` or ``workbook``, ``raw_table``, ``headers``, ``cells``,
``units``, ``typed_table``, ``records``, ``score_table``.
"""
