"""The app: its choice, cursor, jobs and files, and the parts that pages and commands share."""
