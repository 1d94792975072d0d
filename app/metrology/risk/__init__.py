"""How often a decision rule with an instrument is right: risks by JCGM 106:2012, and what it can police."""
