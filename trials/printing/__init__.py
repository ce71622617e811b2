"""What a printed thing is made of, and its forms: ``document``, then ``html``, ``pdf``,
``xlsx``.
"""
