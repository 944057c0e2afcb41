"""Probabilities, moments, design points and indices from arrays of margins: no bolts, no laws."""
