"""The app: its choice, cursor, jobs and files, and what pages and commands share of them."""
