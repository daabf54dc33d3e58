"""Circuit, antenna to antenna: every loss of every ray path, and the power sum.

Must not contain noise, required levels or user-facing text.
"""
