"""Knows how numbers become decisions: windows, plans, appointments, reasons. It returns codes and numbers;
no sentence and no physics may enter.
"""
