"""English sentences for the engine's codes and numbers, one sentence for one thing.

This package must not contain computations or decisions about bands or hours.
"""
