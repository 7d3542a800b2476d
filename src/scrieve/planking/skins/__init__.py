"""Diagonal skins."""
