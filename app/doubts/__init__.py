"""Looking back: verdicts whose instrument turned out bad, what put them in doubt, and who decided what about each."""
