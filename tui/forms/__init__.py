"""What opens over a page to be filled in, one file a topic; each ends in a question or a deed."""
