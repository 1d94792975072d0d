"""Numbered, signed slips: the record, its page, its signature, and what anyone can verify."""
