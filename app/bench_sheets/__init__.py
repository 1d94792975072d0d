"""An engine opened, poured or gauged: what was measured on the bench, before whom, and the verdict it gives."""
