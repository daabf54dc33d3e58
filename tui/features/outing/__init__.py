"""Page that stays open during an outing."""
