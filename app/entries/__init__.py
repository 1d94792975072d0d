"""Competitors, their engines, and entries to an event."""
