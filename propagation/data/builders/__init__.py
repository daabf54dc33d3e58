"""Scripts that make the tables beside this folder from published files; no wheel carries them."""
