"""The guided first run and the words of the trade."""
