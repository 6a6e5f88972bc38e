"""Look for a book by the name of its file, without loading what opens one."""

from stockroom.store.book_files import refuse_other_files as look_for

__all__ = ["look_for"]
