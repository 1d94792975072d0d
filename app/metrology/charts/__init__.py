"""Control charts of an instrument on its reference volume: is it still what it was, and where is it drifting to?"""
