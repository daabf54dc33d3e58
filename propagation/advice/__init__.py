"""Numbers become decisions: windows, plans, appointments and reasons."""
