"""The few inner loops that NumPy cannot run fast, in C.

Each loop is a C file of its own; its NumPy twin stands beside the code that uses it. Both give the
same bits: integers, or floating point in a fixed order of operations without contraction. The
extension is built where a compiler is and optional everywhere; ``FILMHAND_PLAIN=1`` in the
environment does without it.

To add a loop: write ``NAME.c``, declare its function in ``kernels.h``, add its row in ``module.c``,
its signature to :class:`filmhand.kernels.loops.CompiledLoops` and the file to ``pyproject.toml``.
Whoever adds a loop or changes a signature counts ``VERSION`` up, in ``loops.py`` and ``kernels.h``.
"""
