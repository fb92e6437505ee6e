"""Opens a model with onnxruntime, in the one way in which all are run here."""

import os
from pathlib import Path
from typing import Any


def report_nothing() -> None:
    """Keep onnxruntime from reporting; to be called before anything loads it.

    Since its release 1.29 it reports its use over the network to its maker, and keeps an identity
    of the machine, unless this is set (its pull request 27379). Nothing leaves the room.
    """
    os.environ["ORT_DISABLE_TELEMETRY"] = "1"


def open_session(model: Path, threads: int) -> Any:
    """Open a model file on the processor.

    Without an arena: else what the longest talk or text ever needed is kept for the rest of the
    case, some 100 MB for each model that hears and 32 MB for the voice (measured).
    """
    report_nothing()
    import onnxruntime  # noqa: PLC0415  (a typed count never needs it)

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    options.enable_cpu_mem_arena = False
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])
