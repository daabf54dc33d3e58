"""The terminal program: commands and screens over the engine in `propagation`."""
