"""People as instruments, as they were recorded: what was served to whom and answered, which words
were ticked.
"""
