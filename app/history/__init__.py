"""Read-only pages across everything: search, the record page, the competitor's own record, the log."""
