"""Ray path and skip distance of every band: `path`, and the reach page."""
