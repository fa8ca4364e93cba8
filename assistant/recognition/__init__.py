"""Sound to words: recognisers, the two passes of recognition, and the judgement on their results.

The package is generic in what words mean: the dialogue supplies that (`utterance.Understanding`).
"""
