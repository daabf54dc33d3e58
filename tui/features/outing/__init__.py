"""The page that stays open during an outing."""
