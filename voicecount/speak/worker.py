"""The worker process of the system voice: text on its input, a sound file as its result.

pyttsx3 may hang, may speak only once in a process, and may lose its sound without an error; so it
runs in a process of its own, once for each text, and never plays anything itself.
"""

import sys

RATE = 165
"""Words a minute; the library's own 200 is too fast to check a number by."""


def main() -> None:
    """Write the sound of standard input to the file named by the last argument.

    The argument before it, where there is one, is how many times as fast it is spoken.
    """
    import pyttsx3  # noqa: PLC0415 - the parent imports this module's name only

    engine = pyttsx3.init()
    *rate, path = sys.argv[1:]
    engine.setProperty("rate", round(RATE * float(rate[0])) if rate else RATE)
    engine.save_to_file(sys.stdin.buffer.read().decode("utf-8"), path)
    engine.runAndWait()


if __name__ == "__main__":
    main()
