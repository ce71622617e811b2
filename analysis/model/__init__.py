"""From loaves to judged contrasts: coding, design matrix, units, and the rule for contrasts between
mixes.

Read in this order: ``coding``, ``estimability``, ``design``, ``units``, ``arrangement``,
``unit_means``, ``judging``, ``estimates``, ``mix_rule``, ``trial_fit``.
"""
