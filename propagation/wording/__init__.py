"""Knows how the engine's codes and numbers are said in English, one sentence for one thing; no computing and
no decision about bands or hours may enter.
"""
