"""Band plan of the hours on air: `plan`, and its page."""
