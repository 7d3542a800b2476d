"""What a builder reads of a check, a working or a breach."""

from dataclasses import fields, is_dataclass


def texts(value):
    """Every text within a value, but for sources and formulas, which quote."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, tuple):
        return [text for each in value for text in texts(each)]
    if is_dataclass(value):
        return [text for field in fields(value) if field.name not in ("source", "formula", "joints")
                for text in texts(getattr(value, field.name))]  # fmt: skip
    return []
