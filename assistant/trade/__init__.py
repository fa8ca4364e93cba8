"""The arithmetic of the trade: pure functions on quantities, one module to a subject.

Nothing is imported here, so that asking for one sum does not pay for the others.
"""
