"""Settings of the whole test run."""

import os

# As the command line does before numpy is loaded: the heads' small matrices need no threads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
