"""The numerical core: pure numbers, no clock, no files, no web, no database. The one door is `assessment`."""

CORE_VERSION = "2.1"
