"""The months ahead: `season`, and its page."""
