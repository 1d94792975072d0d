"""Series, events, classes and the dated editions of their rules."""
