"""The program of a job's process: ``python -m filmhand.worker.job``."""

import gc
import os
import sys

if __name__ == "__main__":
    gc.disable()  # until all is loaded: none of it is going to be let go of
    from filmhand.worker.child import answer_parent

    code = answer_parent()
    sys.stderr.flush()
    # The answer is given; taking a large heap apart would only keep the film waiting.
    os._exit(code)
