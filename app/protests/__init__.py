"""A protest against a result, and everything that was added to it up to the decision."""
