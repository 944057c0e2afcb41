"""Probabilistic preload reliability of bolted joints."""
