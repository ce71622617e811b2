"""What stands on each sheet of a planned trial: the run, weighing, measuring, scoring, labels, the
key, the workbook.

Each sheet's content is a frozen record, without a word of its own and without paper.
"""
