"""No deadline: the first quantile brings in a library, and the cores are shared."""

from hypothesis import settings

settings.register_profile("core", deadline=None)
settings.load_profile("core")
