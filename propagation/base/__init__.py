"""Units, constants, errors, searches, files, text and storage.

Must not contain radio or physics.
"""
