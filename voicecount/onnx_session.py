"""Opens a model with onnxruntime, in the one way in which all are run here."""

from pathlib import Path
from typing import Any


def open_session(model: Path, threads: int) -> Any:
    """Open a model file on the processor.

    Without an arena: else what the longest talk or text ever needed is kept for the rest of the
    case, some 100 MB for each model that hears and 32 MB for the voice (measured).
    """
    import onnxruntime  # noqa: PLC0415  (a typed count never needs it)

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    options.enable_cpu_mem_arena = False
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])
