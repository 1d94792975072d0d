"""People who sign in: their roles, sessions, PINs and signing keys."""
