"""Attempts: the only place where case, log and optics meet; gives back what may be seen."""
