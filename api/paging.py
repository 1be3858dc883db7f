"""Cursor paging by key: stable while rows come and go, one query, no count."""

from rest_framework.pagination import CursorPagination


class CursorByKey(CursorPagination):
    """`?cursor=`, `?page_size=` up to 200; newest key last."""

    ordering = "id"
    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200
