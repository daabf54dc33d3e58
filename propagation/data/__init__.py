"""Published tables in the form the engine reads, each with its provenance and the script that made it."""
