"""Frozen dataclasses to and from plain JSON values."""

from traces.core.plain_json.converting import Decimals, PlainJson, fields_from, fields_json

__all__ = ["Decimals", "PlainJson", "fields_from", "fields_json"]
