"""People as instruments: can they tell the breads apart, and what do they see?"""
