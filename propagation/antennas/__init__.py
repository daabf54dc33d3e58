"""What this antenna radiates on each band: one file per kind of antenna."""
