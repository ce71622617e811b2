"""What is calculated from what was weighed and measured: measures, formulas, mixes, lids, repeated
readings.
"""
