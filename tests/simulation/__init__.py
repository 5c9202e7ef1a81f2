"""Scenes with known truth rendered as phone photos, for tests, samples and accuracy studies."""
