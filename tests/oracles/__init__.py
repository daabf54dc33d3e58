"""Second versions of what the engine computes, written independently of it, to hold it against."""
