"""Marking: what an answer is worth beside the truth; reads case and log after closing."""
