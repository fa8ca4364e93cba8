"""A shop's procedures: the model, reading, checking, and the calculations on their fields."""
