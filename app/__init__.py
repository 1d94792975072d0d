"""Shedbook: the technical-inspection logbook of a race series."""
