"""What is asked of a trial: the question, its loaves or its single scores, ready for a model."""
