"""Stations and friends on file: `station`, `friends`, and their page."""
