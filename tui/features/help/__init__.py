"""Help: what the program is, its keys, commands, files and limits."""
