"""Settings of the whole test run."""

import os

# As the command line does before numpy is loaded: the heads' small matrices need no threads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# As the package does: some tests load a voice before it.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
