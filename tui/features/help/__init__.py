"""Help on the program, its keys, commands, files and limits."""
