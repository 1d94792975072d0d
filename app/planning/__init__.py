"""Before anyone measures: what an edition with an instrument can police, and who bears the doubt."""
