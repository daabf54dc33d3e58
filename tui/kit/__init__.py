"""The toolkit of all pages: widgets, forms, texts; imports neither the app nor a feature."""
