"""The things seen on a screen, one file each; they draw finished results and compute nothing."""
