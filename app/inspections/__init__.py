"""The work sheet of one engine: cautions, settings, conditions, readings, and the verdict that closes it."""
