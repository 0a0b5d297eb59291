"""The server, and one thread for its sums of products.

The engine multiplies many small matrices; shared among threads each product waits for the
slowest, which on a busy machine costs ten times what it can save. Must be set before numpy loads.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
