"""What any page may draw and say with: widgets, forms, words; knows neither the app nor a feature."""
