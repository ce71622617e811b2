"""Planning a trial before the oven is lit: which dough on which day, which loaf where, in what
order.
"""
