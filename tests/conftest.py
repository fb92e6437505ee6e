"""Settings of the whole test run."""

import os

from voicecount.onnx_session import report_nothing

# As the command line does before numpy is loaded: the heads' small matrices need no threads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
report_nothing()  # some tests load a voice before the package does
