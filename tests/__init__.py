"""The tests; the server is imported first, so that they too count on one thread."""

import server  # noqa: F401
