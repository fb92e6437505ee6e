"""The command line: good runs give their output, bad ones one line on stderr and exit code 2."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from voicecount import cli
from voicecount.commands import inputs, journals, replay
from voicecount.commands.hear import hear
from voicecount.count.flags import Flag
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.clock import SystemClock
from voicecount.reasons import Reason
from voicecount.testing.voice import FakeVoice

ROOT = Path(__file__).parent.parent
SHEET = str(ROOT / "grammars" / "first_try.yaml")
OTHER_SHEET = str(ROOT / "grammars" / "caesarean.yaml")

COUNT = """
# five lines of a small sheet
0 scrub: gauze, one two three four five six seven eight nine ten
8 circulator: ten
12 scrub: lap sponge one two four
18 scrub: lap sponge one two three four five
24 circulator: four
30 scrub: lap sponge one two three four five
36 circulator: did you see the game last night
40 circulator: five
"""


@pytest.fixture(autouse=True)
def _own_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every test's journals in its own folder."""
    monkeypatch.setattr(journals.platformdirs, "user_data_path", lambda *_, **__: tmp_path / "data")


@pytest.fixture
def count(tmp_path: Path) -> str:
    path = tmp_path / "count.txt"
    path.write_text(COUNT)
    return str(path)


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    """Run a command in this process: exit code, output, complaints."""
    code = cli.main([str(argument) for argument in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    """Run a command that must fail with exit code 2 and exactly one line; that line."""
    code, _, err = run(capsys, *arguments)
    assert code == 2
    assert err.startswith("voicecount: ")
    assert err.endswith("\n")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err


def typed(command: str, *arguments: object) -> tuple[object, ...]:
    return (command, "--sheet", SHEET, "--recogniser", "typed", *arguments)


# What goes well


def test_check_shows_the_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    """The sheet's lines are shown as a table."""
    code, out, err = run(capsys, "check", SHEET)

    assert (code, err) == (0, "")
    assert "lap sponge" in out


KEYS = [
    *("file", "channel", "start", "end", "outcome", "item", "numbers", "pieces", "place"),
    *("command", "text", "words", "margin", "ratio", "wrong", "reason", "latency_ms"),
]


def test_hear_gives_one_object_an_utterance_and_line(
    capsys: pytest.CaptureFixture[str], count: str
) -> None:
    """Every line is one JSON object with exactly the documented keys."""
    code, out, err = run(capsys, *typed("hear", "--json", count))
    objects = [json.loads(line) for line in out.splitlines()]

    assert (code, err) == (0, "")
    assert [list(found) for found in objects] == [KEYS] * 8
    assert objects[0]["file"] == count
    assert objects[0]["item"] == "gauze"
    assert objects[0]["numbers"] == list(range(1, 11))
    assert [found["channel"] for found in objects[:2]] == [0, 1]
    assert objects[6]["outcome"] == "ignored"
    assert objects[6]["reason"] == "not_for_us"
    assert all((found["reason"] is None) == (found["outcome"] == "accepted") for found in objects)
    assert all(found["latency_ms"] >= 0 for found in objects)


def test_hear_shows_a_table(capsys: pytest.CaptureFixture[str], count: str) -> None:
    """Without --json there is a head and a row for each utterance, with reasons in words."""
    code, out, _ = run(capsys, *typed("hear", count))

    assert code == 0
    assert len(out.splitlines()) == 9
    assert "taken as talk in the room" in out


def test_replay_gives_one_object_at_the_end(
    capsys: pytest.CaptureFixture[str], count: str, tmp_path: Path
) -> None:
    """Items by id, the conversation and the journal's file, with exactly the documented keys."""
    journal = tmp_path / "mine.vcj"
    code, out, err = run(capsys, *typed("replay", "--json", "--journal", journal, count))
    result = json.loads(out)

    assert (code, err) == (0, "")
    assert list(result) == [
        *("items", "count", "held", "due", "discrepancies", "not_found", "closed"),
        *("conversation", "journal"),
    ]
    assert result["journal"] == str(journal)
    assert journal.exists()
    gauze = result["items"]["gauze"]
    assert {key: gauze[key] for key in ("counted", "expected", "confirmed", "flags")} == {
        "counted": 10,
        "expected": 10,
        "confirmed": True,
        "flags": [],
    }
    assert list(gauze)[4:] == [
        *("initial", "added", "changed", "handed_over", "expected_now", "tucked", "inside"),
        *("passed_off", "places", "together"),
    ]
    assert result["items"]["lap_sponge"]["flags"] == ["recounted", "disputed"]
    assert result["items"]["towel_clip"]["counted"] is None
    assert {flag for item in result["items"].values() for flag in item["flags"]} <= set(Flag)
    said = [line for line in result["conversation"] if "said" in line]
    answered = [line for line in result["conversation"] if "answered" in line]
    assert [list(line) for line in said] == [["time", "who", "said", "outcome"]] * 8
    assert {line["who"] for line in said} == {"scrub", "circulator"}
    assert {line["who"] for line in answered} == {"assistant"}
    assert len(said) + len(answered) == len(result["conversation"])


def test_replay_shows_conversation_tally_and_journal(
    capsys: pytest.CaptureFixture[str], count: str
) -> None:
    """Who said and answered what, the tally with states in words, the journal's place."""
    code, out, _ = run(capsys, *typed("replay", count))

    assert code == 0
    assert "0:12.0  scrub" in out
    assert "→ " in out
    assert "● confirmed" in out
    assert "· not counted" in out
    assert out.splitlines()[-1].startswith("Journal: ")
    assert ".vcj (head " in out
    assert "safe" not in out.lower()


def test_two_replays_keep_two_journals(
    capsys: pytest.CaptureFixture[str], count: str, tmp_path: Path
) -> None:
    """Even within one second no journal is written over."""
    for _ in range(2):
        assert run(capsys, *typed("replay", "--json", count))[0] == 0

    assert len(list((tmp_path / "data" / "journals").glob("*-first_try*.vcj"))) == 2


def test_one_channel_is_marked_as_not_told_apart(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A script without roles is one channel: someone speaks, and stored lines carry the flag."""
    path = tmp_path / "one.txt"
    path.write_text("0: towel clip one two three four five six\n9: six\n")
    code, out, _ = run(capsys, *typed("replay", "--json", path))
    result = json.loads(out)

    assert code == 0
    assert "roles_not_told_apart" in result["items"]["towel_clip"]["flags"]
    assert {line["who"] for line in result["conversation"]} == {"someone", "assistant"}


def test_resume_goes_on_where_the_journal_ends(
    capsys: pytest.CaptureFixture[str], count: str, tmp_path: Path
) -> None:
    """A journal cut in its last record ends as it would have, and keeps what was cut."""
    journal = tmp_path / "mine.vcj"
    _, whole, _ = run(capsys, *typed("replay", "--json", "--journal", journal, count))
    data = journal.read_bytes()
    journal.write_bytes(data[: data.rindex(b"\n", 0, -1) + 40])
    code, out, _ = run(
        capsys, "resume", journal, "--sheet", SHEET, "--recogniser", "typed", "--json", count
    )

    assert code == 0
    assert json.loads(out)["items"] == json.loads(whole)["items"]
    assert len(list(tmp_path.glob("mine.vcj.torn-*"))) == 1


def test_resume_with_a_new_recording_counts_on(
    capsys: pytest.CaptureFixture[str], count: str, tmp_path: Path
) -> None:
    """With --new, another recording's times come after the journal's last one."""
    journal = tmp_path / "mine.vcj"
    run(capsys, *typed("replay", "--json", "--journal", journal, count))
    more = tmp_path / "more.txt"
    more.write_text("0 scrub: towel clip one two three four five six\n9 circulator: six\n")
    common = ("--sheet", SHEET, "--recogniser", "typed", "--json")
    code, out, _ = run(capsys, "resume", journal, *common, "--new", more)
    result = json.loads(out)

    assert code == 0
    assert result["items"]["towel_clip"]["counted"] == 6
    assert result["items"]["gauze"]["counted"] == 10
    assert min(line["time"] for line in result["conversation"]) > 40


def test_resume_without_a_recording_tells_where_the_count_stands(
    capsys: pytest.CaptureFixture[str], count: str, tmp_path: Path
) -> None:
    """The tally and what comes next are shown."""
    journal = tmp_path / "mine.vcj"
    run(capsys, *typed("replay", "--json", "--journal", journal, count))
    code, out, _ = run(capsys, "resume", journal, "--sheet", SHEET)

    assert code == 0
    assert "Going on with" in out
    assert "● confirmed" in out


def test_what_is_said_can_be_kept_as_a_file(
    capsys: pytest.CaptureFixture[str],
    count: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """--say-to writes one sound file and names the voice in the journal."""
    monkeypatch.setattr(replay, "choose_voice", lambda *_, **__: FakeVoice())
    wav = tmp_path / "said.wav"
    code, out, _ = run(capsys, *typed("replay", "--json", "--say-to", wav, count))

    assert code == 0
    assert soundfile.info(wav).duration > 1
    assert b'"voice":"fake voice"' in Path(json.loads(out)["journal"]).read_bytes()


def test_real_time_speaks_and_shows_what_cannot_be_spoken(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In real time the default voice speaks; without a loudspeaker the reply says it was not."""
    monkeypatch.setattr(replay, "choose_voice", lambda *_, **__: FakeVoice())
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    path = tmp_path / "short.txt"
    path.write_text("0 scrub: towel clip one\n")
    clock = SystemClock()
    monkeypatch.setattr(clock, "sleep", lambda _: None)
    monkeypatch.setattr(replay, "SystemClock", lambda: clock)
    code, out, err = run(capsys, *typed("replay", "--json", "--real-time", path))

    assert (code, err) == (0, "") or "sounddevice" in err
    outcomes = {line["outcome"] for line in json.loads(out)["conversation"]}
    assert outcomes == {"accepted", "unspoken"}


def test_reasons_lists_every_code(capsys: pytest.CaptureFixture[str]) -> None:
    """All reasons and all flags are shown with their meaning."""
    code, out, _ = run(capsys, "reasons")

    assert code == 0
    assert all(known.value in out for known in (*Reason, *Flag))


def test_help_and_version(capsys: pytest.CaptureFixture[str]) -> None:
    """Both are printed and end well."""
    for option in ("--help", "--version"):
        with pytest.raises(SystemExit) as ended:
            cli.main([option])
        assert ended.value.code == 0
    assert "voicecount" in capsys.readouterr().out


# Sound through fakes


class Everything:
    """A recogniser that takes whatever it is given for talk."""

    name = "fake"

    def hear(self, utterance: Any, _: object) -> Heard:
        reason = Reason.NOT_FOR_US
        start, end = utterance.start, utterance.end
        return Heard(utterance.channel, start, end, Outcome.IGNORED, None, "", reason=reason)


@pytest.fixture
def no_recogniser(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound files are looked at and cut for real; nothing is understood in them."""
    monkeypatch.setattr(inputs, "load_recogniser", lambda *_: Everything())


def wav(path: Path, samples: np.ndarray[Any, Any], rate: int = 16_000, kind: str = "PCM_16") -> str:
    soundfile.write(path, samples, rate, kind)
    return str(path)


def noise(seconds: float, rate: int = 16_000, channels: int = 1) -> np.ndarray[Any, Any]:
    shape = (round(seconds * rate), channels)
    return np.random.default_rng(3).normal(0, 0.05, shape).astype(np.float32)


@pytest.mark.usefixtures("no_recogniser")
@pytest.mark.parametrize(
    ("samples", "rate", "kind"),
    [
        (np.zeros((16_000, 1), np.float32), 16_000, "PCM_16"),
        (np.zeros((16_000, 2), np.float32), 16_000, "PCM_16"),
        (noise(3), 16_000, "PCM_16"),
        (noise(3, 8_000), 8_000, "PCM_16"),
        (noise(3, 44_100, 2), 44_100, "PCM_24"),
    ],
    ids=["silence", "silence on two channels", "noise", "8 kHz", "44.1 kHz 24 bit"],
)
def test_sound_without_words_is_a_coded_refusal(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, samples: Any, rate: int, kind: str
) -> None:
    """Silence and noise give answers that are not accepted, each with a documented code."""
    path = wav(tmp_path / "sound.wav", samples, rate, kind)
    code, out, err = run(capsys, "hear", "--sheet", SHEET, "--json", path)
    objects = [json.loads(line) for line in out.splitlines()]

    assert (code, err) == (0, "")
    assert objects
    assert all(found["outcome"] != "accepted" for found in objects)
    assert all(found["reason"] in set(Reason) for found in objects)


@pytest.mark.usefixtures("no_recogniser")
def test_silence_is_replayed_to_a_journal_that_holds_no_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A recording in which nobody speaks leaves every line uncounted."""
    path = wav(tmp_path / "sound.wav", np.zeros((32_000, 2), np.float32))
    code, out, _ = run(capsys, "replay", "--sheet", SHEET, "--json", path)

    assert code == 0
    assert {item["counted"] for item in json.loads(out)["items"].values()} == {None}


# Bad input: one line, exit code 2


def bad_file(tmp_path: Path, name: str, content: bytes) -> Path:
    path = tmp_path / name
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (None, "no such file"),
        (b"title: [", "YAML"),
        (b"title: x\nitems:\n  - {id: a, group: sponges, say: [gauze], colour: red}\n", "colour"),
        (b"", "empty"),
        (b"\xff\xfe\x00", "UTF-8"),
    ],
)
def test_bad_sheets(
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    count: str,
    content: bytes | None,
    message: str,
) -> None:
    """A missing, broken, unknown or empty sheet is refused the same way by every command."""
    sheet = tmp_path / "sheet.yaml"
    if content is not None:
        sheet.write_bytes(content)
    for arguments in (
        ("check", sheet),
        ("hear", "--sheet", sheet, "--recogniser", "typed", count),
        ("replay", "--sheet", sheet, "--recogniser", "typed", count),
        ("resume", count, "--sheet", sheet),
    ):
        line = refused(capsys, *arguments)
        assert message in line
        assert "sheet.yaml" in line


@pytest.mark.usefixtures("no_recogniser")
@pytest.mark.parametrize("command", ["hear", "replay"])
@pytest.mark.parametrize("case", ["missing", "empty", "text", "folder", "cut", "three channels"])
def test_bad_recordings(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, command: str, case: str
) -> None:
    """What is no sound, cut short, or has three channels is one line; no journal is begun."""
    path = tmp_path / "bad.wav"
    if case == "empty":
        path.write_bytes(b"")
    elif case == "text":
        path.write_text("hello, I am no sound\n" * 20)
    elif case == "folder":
        path.mkdir()
    elif case == "cut":
        wav(path, noise(2))
        path.write_bytes(path.read_bytes()[:30_000])
    elif case == "three channels":
        wav(path, noise(1, channels=3))
    line = refused(capsys, command, "--sheet", SHEET, path)

    assert "bad.wav" in line
    assert not (tmp_path / "data").exists()


def test_a_bad_file_among_good_ones_is_told_before_any_is_heard(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, count: str
) -> None:
    """Every file is looked at first, so that nothing is half done."""
    code, out, err = run(capsys, *typed("hear", "--json", count, tmp_path / "none.txt"))

    assert (code, out) == (2, "")
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "holds no line"),
        ("# nothing\n\n", "holds no line"),
        ("scrub: gauze, one\n", "line 1"),
        ("0 scrub: gauze, one\n5 surgeon: two\n", "line 2"),
        ("0 scrub: gauze, one\n5: two\n", "name all or none"),
        ("0 scrub: gauze, one\n0 scrub: two\n", "line 2"),
        ("0 scrub:\n", "line 1"),
        ("-1 scrub: gauze\n", "line 1"),
        ("1e9 scrub: gauze\n", "line 1"),
    ],
)
def test_bad_scripts(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str, message: str
) -> None:
    """A line that is no line of a script is named by its number."""
    path = bad_file(tmp_path, "bad.txt", text.encode())

    assert message in refused(capsys, *typed("hear", path))


def test_a_script_that_is_no_text(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Bytes that are no text are refused in one line."""
    path = bad_file(tmp_path, "bad.txt", b"\xff\xd8\xff")

    assert "no text" in refused(capsys, *typed("hear", path))


def test_an_existing_journal_is_not_written_over(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, count: str
) -> None:
    """--journal with a file that exists is refused; the file stays as it is."""
    path = bad_file(tmp_path, "mine.vcj", b"mine")

    assert "already" in refused(capsys, *typed("replay", "--journal", path, count))
    assert path.read_bytes() == b"mine"


def test_a_journal_of_another_sheet(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, count: str
) -> None:
    """Resuming with another sheet is refused, and the journal stays as it is."""
    path = tmp_path / "mine.vcj"
    run(capsys, *typed("replay", "--json", "--journal", path, count))
    data = path.read_bytes()

    assert "another count sheet" in refused(capsys, "resume", path, "--sheet", OTHER_SHEET)
    assert path.read_bytes() == data


def test_a_recording_with_other_channels_than_the_journal(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, count: str
) -> None:
    """A journal of two channels is not resumed with one."""
    path = tmp_path / "mine.vcj"
    run(capsys, *typed("replay", "--json", "--journal", path, count))
    one = bad_file(tmp_path, "one.txt", b"0: six\n")
    line = refused(capsys, "resume", path, "--sheet", SHEET, "--recogniser", "typed", one)

    assert "two channels" in line


@pytest.mark.parametrize(
    ("content", "message"),
    [(None, "no such journal"), (b"", "no whole record"), (b"hello\n", "line 1")],
)
def test_bad_journals(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, content: bytes | None, message: str
) -> None:
    """A journal that is missing, empty or none is refused in one line."""
    path = tmp_path / "bad.vcj"
    if content is not None:
        path.write_bytes(content)

    assert message in refused(capsys, "resume", path, "--sheet", SHEET)


@contextmanager
def nobody() -> Iterator[None]:
    """Be a user who may not write everywhere, also where the tests run as root."""
    was_root = os.geteuid() == 0
    if was_root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if was_root:
            os.seteuid(0)


@pytest.mark.skipif(os.name == "nt", reason="permissions are POSIX")
def test_a_folder_without_permission(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, count: str
) -> None:
    """A journal where nobody may write is refused in one line, given or by default."""
    folder = tmp_path / "closed"
    folder.mkdir()
    for above in (tmp_path, tmp_path.parent, tmp_path.parent.parent):
        above.chmod(0o755)
    Path(count).chmod(0o644)
    folder.chmod(0o555)
    with nobody():
        line = refused(capsys, *typed("replay", "--journal", folder / "mine.vcj", count))
        default = refused(capsys, *typed("replay", count))

    assert "choose a folder where you may write" in line
    assert "--journal" in default


def test_a_missing_model(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without its model the recogniser says what to fetch; no journal is begun."""
    monkeypatch.setenv("VOICECOUNT_VOSK_MODEL", str(tmp_path / "none"))
    path = wav(tmp_path / "sound.wav", noise(1, channels=2))
    for command in ("hear", "replay"):
        line = refused(capsys, command, "--sheet", SHEET, "--recogniser", "vosk", path)
        assert "models_fetch" in line
    assert not (tmp_path / "data").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("nothing",),
        ("hear", "x.wav"),
        ("hear", "--sheet", SHEET),
        ("hear", "--sheet", SHEET, "--recogniser", "magic", "x.wav"),
        ("replay", "--sheet", SHEET, "a.wav", "b.wav"),
        ("resume", "a.vcj", "--sheet", SHEET, "b.wav", "c.wav"),
        ("check", SHEET, "--colour"),
    ],
)
def test_bad_arguments(capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]) -> None:
    """A command that cannot work is one line that names the help."""
    assert "--help" in refused(capsys, *arguments)


def test_keeping_what_is_said_needs_a_voice(
    capsys: pytest.CaptureFixture[str], count: str, tmp_path: Path
) -> None:
    """--say-to with --voice none is refused."""
    line = refused(capsys, *typed("replay", "--voice", "none", "--say-to", tmp_path / "x", count))

    assert "--say-to needs a voice" in line


def test_a_demo_without_its_recording(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Away from a clone the demo says where it runs."""
    monkeypatch.setattr(replay, "DEMO_RECORDING", Path("none.flac"))

    assert "from a clone" in refused(capsys, "demo", "--fast")


def test_a_name_cannot_steer_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Control characters in an argument do not reach the terminal."""
    assert "\x1b" not in refused(capsys, "check", "\x1b[2Jsheet\n.yaml")


# Stops and unforeseen errors


def test_a_stop_by_a_key_names_the_journal(
    capsys: pytest.CaptureFixture[str], count: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C in the middle of a count ends with 130 and says where everything is."""

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("voicecount.room.Room.run", stop)
    code, _, err = run(capsys, *typed("replay", count))

    assert code == 130
    assert err.count("\n") == 1
    assert "go on with: voicecount resume" in err


@pytest.mark.parametrize("debug", ["0", "1"])
def test_an_unforeseen_error_is_one_line_and_names_the_journal(
    capsys: pytest.CaptureFixture[str], count: str, monkeypatch: pytest.MonkeyPatch, debug: str
) -> None:
    """A fault of the program shows no traceback unless it is asked for."""

    def fail(*_: object) -> None:
        raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr("voicecount.talk.dialogue.Dialogue.hear", fail)
    monkeypatch.setenv(cli.DEBUG, debug)
    code, _, err = run(capsys, *typed("replay", count))

    assert code == 1
    assert ("Traceback" in err) == (debug == "1")
    assert "ZeroDivisionError: two lines); everything acknowledged is in" in err.splitlines()[-1]


def child(*arguments: str, **options: Any) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "voicecount", *arguments]
    return subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **options
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="optional: a device of Linux")
def test_an_output_without_space_is_told_in_one_line() -> None:
    """What, and what to do; exit code 2."""
    command = [sys.executable, "-m", "voicecount", "check", str(ROOT / SHEET)]
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)

    assert done.returncode == 2
    told = "voicecount: the output: no space is left to write it; make room and call it again\n"
    assert done.stderr == told


def test_a_closed_output_is_quiet(count: str) -> None:
    """When nobody reads the output any more, nothing is complained of."""
    process = child("hear", "--sheet", SHEET, "--recogniser", "typed", count)
    assert process.stdout is not None
    process.stdout.close()
    assert process.stderr is not None
    complaint = process.stderr.read()
    process.stderr.close()

    assert process.wait() in {0, 1}
    assert complaint == b""


@pytest.mark.skipif(os.name == "nt", reason="kill -9 is POSIX")
def test_a_killed_count_is_resumed(tmp_path: Path) -> None:
    """kill -9 in the middle: what was read back before is in the journal, and the count ends."""
    sheet, journal, count = (tmp_path / name for name in ("s.yaml", "mine.vcj", "count.txt"))
    sheet.write_text(Path(SHEET).read_text() + "\npolicy: {settle_seconds: 0.3}\n")
    count.write_text("0 scrub: towel clip, one\n2 circulator: one\n60 scrub: gauze, none\n")
    common = ("--sheet", str(sheet), "--recogniser", "typed")
    slow = ("--real-time", "--voice", "none", "--journal", str(journal))
    process = child("replay", *common, *slow, str(count))
    assert process.stdout is not None
    line = b""
    while b"Towel clip, one." not in line:
        line = process.stdout.readline()
    process.send_signal(signal.SIGKILL)
    process.communicate()
    kept = journal.read_bytes()
    resumed = child("resume", str(journal), *common, "--json", str(count))
    out, err = resumed.communicate()

    assert b'"kind":"line_stored"' in kept
    assert (resumed.returncode, err) == (0, b"")
    assert json.loads(out)["items"]["towel_clip"]["counted"] == 1
    assert json.loads(out)["items"]["towel_clip"]["confirmed"]
    assert json.loads(out)["items"]["gauze"]["counted"] == 0


def test_the_order_of_files_is_kept(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Several files are answered in the order in which they were named."""
    paths = [bad_file(tmp_path, name, b"0: six\n") for name in ("b.txt", "a.txt")]
    hear(Path(SHEET), paths, recogniser="typed", as_json=True)
    files = [json.loads(line)["file"] for line in capsys.readouterr().out.splitlines()]

    assert files == [str(path) for path in paths]
