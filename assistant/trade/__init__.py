"""The calculations of the trade: pure functions on quantities, one module for each subject.

Nothing is imported here, so that a program that needs one calculation does not load the others.
"""
