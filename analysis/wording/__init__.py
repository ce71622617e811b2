"""Every sentence that a person reads about a result, one module a topic; ``numbers`` turns numbers
into text.
"""
