"""Bolt mechanics as pure functions of arrays: no probability, no input or output."""
