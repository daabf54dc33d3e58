"""The commands of the terminal program, one file each."""
