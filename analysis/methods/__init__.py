"""General statistics: they know arrays, and nothing of bread."""
