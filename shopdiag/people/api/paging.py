"""Lists in pages."""

from rest_framework.pagination import LimitOffsetPagination


class Pages(LimitOffsetPagination):
    """`limit` and `offset`; the answer carries the addresses of the pages beside it."""

    default_limit = 50
    max_limit = 200
