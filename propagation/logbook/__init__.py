"""After the outing: logs and reception reports, read whole and turned into columns the engine can judge."""
