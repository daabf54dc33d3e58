"""The path and the skip of every band: `path`, and the page of reach."""
