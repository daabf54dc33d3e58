"""Scripts that make the tables in the folder above from published files; no wheel carries them."""
