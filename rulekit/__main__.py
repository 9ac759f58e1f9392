"""``rulekit`` and ``python -m rulekit``: so little that an interruption is told from the first moment on."""

import sys

TYPE_CHECKING = False  # as in the package, nothing is loaded here
if TYPE_CHECKING:
    from sys import UnraisableHookArgs


def main() -> int:
    """Load the command line, run it, and give its exit status."""
    sys.unraisablehook = _interrupted_again
    try:
        from rulekit.cli import main as run
    except BaseException as error:
        if not was_interrupted(error):
            raise
        print("rulekit: interrupted", file=sys.stderr)
        return 130  # as rulekit.cli.status says it, which is not loaded here
    return run()


def was_interrupted(error: BaseException | None) -> bool:
    """Whether it is an interruption, or what Python made of one that came while a module was loaded."""
    return error is not None and (isinstance(error, KeyboardInterrupt) or was_interrupted(error.__cause__))


def _interrupted_again(lost: "UnraisableHookArgs") -> None:
    """An interruption that came where Python drops errors, while it clears something away, comes again at once."""
    if not issubclass(lost.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(lost)
        return
    import _thread

    _thread.start_new_thread(_thread.interrupt_main, ())


if __name__ == "__main__":
    sys.exit(main())
