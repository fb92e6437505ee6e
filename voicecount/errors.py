"""Every error that a person is told of, as one line.

    VoicecountError
    ├── SheetError        the count sheet cannot be used as it is
    ├── RecordingError    a sound file cannot be read or is no sound
    ├── ModelError        weights are missing, altered, or do not fit the sheet
    ├── JournalError      the journal cannot be opened, read or trusted
    │   └── StorageError  a record could not be synced; counting has to stop
    ├── VoiceError        nothing could be spoken
    ├── DeviceError       a microphone or a loudspeaker cannot be used (sound/portaudio.py)
    ├── ReportError       a record cannot be written where it was named (report/files.py)
    ├── DrillError        a drill cannot be used, found or made (drill/drill_file.py)
    ├── AttemptsError     an attempt at a drill cannot be kept or found (drill/store.py)
    ├── ClassError        a class could not be graded whole (commands/drill_grade.py)
    ├── SettingsError     the remembered settings cannot be read or written (keep/settings.py)
    └── UsageError        a command was called in a way that cannot work

The command line prints the message after ``voicecount: `` and exits with 2. A message says what
is wrong, where, and what to do.
"""


class VoicecountError(Exception):
    """Base of every error shown to a person as one line."""


class SheetError(VoicecountError):
    """The count sheet cannot be used as it is."""


class RecordingError(VoicecountError):
    """A sound file cannot be read or is no sound."""


class ModelError(VoicecountError):
    """Weights are missing, altered, or do not fit the sheet."""


class JournalError(VoicecountError):
    """The journal cannot be opened, read or trusted."""


class StorageError(JournalError):
    """A record could not be synced to disk; counting has to stop."""


class VoiceError(VoicecountError):
    """Nothing could be spoken."""


class UsageError(VoicecountError):
    """A command was called in a way that cannot work."""
