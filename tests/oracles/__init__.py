"""Second versions of formulas and searches, written without the engine's own, that its tests compare with."""
