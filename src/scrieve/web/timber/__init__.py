"""The timber page: boards, parts laid on them, cutting list and order."""
