"""The pages of the planks: their list, one plank, its ends, diagonal skins, files sent."""
