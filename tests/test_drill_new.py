"""A drill made from a sheet: proposals that load, the partner's sound, nothing overwritten."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicecount.commands import drill_new
from voicecount.drill import make
from voicecount.drill.check import check_drill
from voicecount.drill.drill_text import drill_text
from voicecount.drill.load import DrillError, load_drill
from voicecount.drill.make import new_drill
from voicecount.drill.model import FITS, Drill, EventKind, Task
from voicecount.drill.partner_sound import (
    SCENE,
    partner_folder,
    partner_sounds,
    partner_words,
)
from voicecount.drill.partner_voice import PartnerVoice
from voicecount.drill.propose import MOST_LINES, propose
from voicecount.drill.seeded import Seeded
from voicecount.drill.steps import cues, steps
from voicecount.errors import UsageError, VoiceError
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.speak.port import Clip
from voicecount.testing.voice import FakeVoice

GRAMMARS = Path(__file__).parent.parent / "grammars"
PATHS = sorted(
    path
    for path in (*GRAMMARS.glob("*.yaml"), *GRAMMARS.glob("drills/*.sheet.yaml"))
    if path.name != "policy.yaml"
)
SHEETS = {path.stem: load_sheet(path) for path in PATHS}
EACH = pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS.keys())
TASKS = pytest.mark.parametrize("task", Task)
SEEDS = range(20)
CAESAREAN = GRAMMARS / "caesarean.yaml"


class Beeper:
    """A voice that beeps, longer for longer texts."""

    name = "beeper 1"

    def __init__(self, fails_at: int = 1_000) -> None:
        self.said: list[str] = []
        self._fails_at = fails_at

    def speak(self, text: str) -> Clip:
        """Beep."""
        if len(self.said) == self._fails_at:
            raise VoiceError("the beeper has no breath; use another voice")
        self.said.append(text)
        wave = np.sin(np.arange(100 * len(text)) / 4).astype(np.float32)
        return Clip(0.3 * wave, 8_000)


@EACH
@TASKS
def test_whatever_is_proposed_is_a_good_drill(sheet: Sheet, task: Task) -> None:
    """From every sheet that ships, 20 seeds a task: the drill fits its sheet and reaches all."""
    for seed in SEEDS:
        drill = propose(sheet, "x.yaml", task=task, seed=seed)
        plan = steps(drill, sheet)

        assert check_drill(drill, sheet) == ()
        assert {step.planted for step in plan} - {None} == set(drill.events)
        assert {event.kind for event in drill.events} <= set(FITS[task])
        assert len({cue.id for cue in cues(plan)}) == len(cues(plan))
        assert 1 <= len(drill.table) <= max(MOST_LINES, 12)


@EACH
@TASKS
def test_the_same_seed_gives_the_same_drill(sheet: Sheet, task: Task) -> None:
    """A seed always gives one drill; among 20 there are several."""
    drills = [propose(sheet, "x.yaml", task=task, seed=seed) for seed in SEEDS]

    assert drills == [propose(sheet, "x.yaml", task=task, seed=seed) for seed in SEEDS]
    assert len({drill.model_dump_json() for drill in drills}) >= 5


@TASKS
def test_events_of_several_kinds_are_planted(task: Task) -> None:
    """Seeds together plant all that fits; a circulator gets up to two miscounts."""
    sheet = SHEETS["thyroid.sheet"]
    drills = [propose(sheet, "x.yaml", task=task, seed=seed) for seed in SEEDS]
    kinds = [[event.kind for event in drill.events] for drill in drills]

    assert {kind for found in kinds for kind in found} == set(FITS[task])
    assert all(len(set(found)) >= 2 for found in kinds)
    if task is Task.CONFIRM:
        assert {found.count(EventKind.MISCOUNT) for found in kinds} <= {1, 2}
        assert any(found.count(EventKind.MISCOUNT) == 2 for found in kinds)


@EACH
def test_sizes_come_from_the_sheet(sheet: Sheet) -> None:
    """No line holds more than is expected, or one package where that is more."""
    for seed in SEEDS:
        for there in propose(sheet, "x.yaml", task=Task.FIRST_COUNT, seed=seed).table:
            item = sheet.item(there.item)
            if item.expect:
                assert there.number <= max(item.expect, item.pack or 0)


def test_a_sheet_that_says_nothing_gets_small_numbers() -> None:
    """Without expected numbers and packages, a few of each; at one place, all of them there."""
    sheet = Sheet.model_validate(
        {
            "title": "Bare",
            "items": [{"id": "pen", "group": "miscellaneous", "say": ["pen"]}],
            "policy": {"places": ["field"]},
        }
    )
    for task in Task:
        for seed in SEEDS:
            drill = propose(sheet, "x.yaml", task=task, seed=seed)
            assert check_drill(drill, sheet) == ()
            assert [there.item for there in drill.table] == ["pen"]
            assert 1 <= drill.table[0].number <= 4


def test_choices_stay_for_ever() -> None:
    """A seed's choices are SHA-256 of what is chosen; these are kept so that drills stay."""
    seeded = Seeded("first_count/1")

    assert [seeded.whole(1, 6, str(at)) for at in range(8)] == [4, 1, 1, 5, 6, 3, 6, 5]
    assert seeded.some("abcdef", 3, str) == ["f", "b", "c"]
    assert seeded.one("abcdef", "one") == "c"


def made(folder: Path, *, seed: int = 1, task: Task = Task.CLOSING_COUNT) -> Path:
    """Make a drill with a beeping partner."""
    return new_drill(CAESAREAN, folder, seed=seed, voice=Beeper(), task=task)


@TASKS
def test_a_drill_is_written_with_all_it_needs(tmp_path: Path, task: Task) -> None:
    """The drill, its sheet and policy, and a sound for every cue, in a folder that is made."""
    folder = tmp_path / "some" / "where"
    path = made(folder, task=task)
    loaded = load_drill(path)
    sounds = partner_sounds(loaded)

    assert path == folder / f"caesarean_{task.value}_1.yaml"
    assert loaded.drill == propose(load_sheet(CAESAREAN), "caesarean.sheet.yaml", task=task, seed=1)
    assert loaded.sheet_path.read_bytes() == CAESAREAN.read_bytes()
    assert loaded.sheet == load_sheet(CAESAREAN)
    assert sounds.keys() == {SCENE, *(c.id for c in cues(steps(loaded.drill, loaded.sheet)))}
    words = partner_words(loaded.drill, loaded.sheet)
    for cue, sound in sounds.items():
        info = soundfile.info(sound)
        assert info.samplerate == 8_000
        assert info.duration == pytest.approx(len(words[cue]) / 80 + 0.4, abs=0.01)


def test_sounds_of_other_words_are_not_used(tmp_path: Path) -> None:
    """What a drill says otherwise now, or whose file is gone, has no sound; the rest still has."""
    path = made(tmp_path)
    loaded = load_drill(path)
    (first, *others) = [cue.id for cue in cues(steps(loaded.drill, loaded.sheet))]
    (partner_folder(path) / f"{first}.wav").unlink()
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("The wound will be closed.", "It is late."), encoding="utf-8")

    assert partner_sounds(load_drill(path)).keys() == set(others)


def test_the_partner_speaks_from_the_files_beside_the_drill(tmp_path: Path) -> None:
    """An instructor's own recording is played; what has no file, or a broken one, is spoken."""
    path = made(tmp_path)
    loaded = load_drill(path)
    first, second, *_ = cues(steps(loaded.drill, loaded.sheet))
    own = np.full((1_000, 2), 0.25, np.float32)
    soundfile.write(partner_folder(path) / f"{first.id}.wav", own, 44_100)
    (partner_folder(path) / f"{second.id}.wav").write_bytes(b"RIFF")
    rest = FakeVoice()
    voice = PartnerVoice.of(loaded, rest)
    clip = voice.speak(first.words)

    assert (clip.rate, len(clip.samples)) == (44_100, 1_000)
    assert clip.samples == pytest.approx(0.25, abs=1e-3)
    assert rest.said == []
    assert voice.name == rest.name
    for text in (second.words, "Three peanuts."):
        assert len(voice.speak(text).samples)
    assert rest.said == [second.words, "Three peanuts."]


@pytest.mark.parametrize("text", [None, "{", "[]", '{"cues": 3}', '{"cues": {"scene": 3}}'])
def test_no_or_broken_words_no_sound(tmp_path: Path, text: str | None) -> None:
    """Without the list of words nothing is known of the sounds, and none is used."""
    path = made(tmp_path)
    words = partner_folder(path) / "cues.json"
    words.unlink()
    if text is not None:
        words.write_text(text, encoding="utf-8")

    assert partner_sounds(load_drill(path)) == {}


def test_without_a_voice_no_sound(tmp_path: Path) -> None:
    """A drill without sound is whole, too."""
    path = new_drill(CAESAREAN, tmp_path, seed=4, voice=None)

    assert load_drill(path).drill.task is Task.FIRST_COUNT
    assert not partner_folder(path).exists()


def test_two_drills_share_a_sheet(tmp_path: Path) -> None:
    """A second drill of the same sheet uses the copy that is there."""
    paths = {made(tmp_path, seed=seed) for seed in (1, 2)}

    assert len(paths) == 2
    assert len(list(tmp_path.glob("*.sheet.yaml"))) == 1


@pytest.mark.parametrize(
    "name", ["caesarean_closing_count_1.yaml", "caesarean_closing_count_1.partner"]
)
def test_nothing_is_overwritten(tmp_path: Path, name: str) -> None:
    """A drill or a partner's folder of that name stays as it is, and nothing else is written."""
    (tmp_path / name).write_text("mine", encoding="utf-8")

    with pytest.raises(DrillError) as caught:
        made(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path / name}: is there already and is never overwritten; use another seed, or"
        " another folder"
    )
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", ["caesarean.sheet.yaml", "policy.yaml"])
def test_another_sheet_or_policy_is_in_the_way(tmp_path: Path, name: str) -> None:
    """Another sheet or policy of that name would change what the drill means: it is refused."""
    (tmp_path / name).write_text("mine", encoding="utf-8")

    with pytest.raises(DrillError) as caught:
        made(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path / name}: another {name} is there and is never overwritten; use another folder"
    )
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_voice_that_fails_leaves_nothing(tmp_path: Path) -> None:
    """Everything is spoken before anything is written."""
    with pytest.raises(VoiceError, match="no breath"):
        new_drill(CAESAREAN, tmp_path / "new", seed=1, voice=Beeper(fails_at=3))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    """A file where the folder should be is told."""
    (tmp_path / "file").write_text("", encoding="utf-8")

    with pytest.raises(DrillError) as caught:
        made(tmp_path / "file" / "below")
    message = str(caught.value)
    assert message.startswith(f"{tmp_path}/file/below")
    assert message.endswith("cannot be written (Not a directory); use another folder")


def test_what_was_not_written_whole_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is read back; another drill in it than was proposed is told."""

    def other(drill: Drill, head: str) -> str:
        return drill_text(drill.model_copy(update={"title": "Other"}), head)

    monkeypatch.setattr(make, "drill_text", other)
    with pytest.raises(DrillError, match=r"was not written whole; remove it and make it again$"):
        made(tmp_path)


def test_the_command_tells_what_it_proposed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command writes into the folder of drills, and tells lines, events, weights and files."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(drill_new, "choose_voice", lambda *_, **__: Beeper())
    drill_new.new(CAESAREAN, task="confirm", seed=3)
    out = capsys.readouterr().out
    loaded = load_drill(Path("drills/caesarean_confirm_3.yaml"))

    assert out.startswith("Caesarean birth: confirm (level ")
    for event in loaded.drill.events:
        assert event.says in out
    assert out.count("Planted: ") == len(loaded.drill.events)
    assert (
        f"sound of {len(partner_sounds(loaded))} cues in drills/caesarean_confirm_3.partner" in out
    )
    assert out.endswith("Start it: voicecount drill start drills/caesarean_confirm_3.yaml\n")
    told = json.loads((tmp_path / "drills/caesarean_confirm_3.partner/cues.json").read_text())
    assert told["voice"] == "beeper 1"


def test_the_command_without_sound(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With ``--voice none`` no sound is made; an addition tells what is brought."""
    drill_new.new(CAESAREAN, tmp_path, task="addition", seed=0, voice="none")
    out = capsys.readouterr().out

    assert "Planted: more is brought, at " in out
    assert "sound of" not in out
    assert not list(tmp_path.glob("*.partner"))


def test_a_seed_below_zero(tmp_path: Path) -> None:
    """A seed is a whole number from 0 on."""
    with pytest.raises(UsageError, match=r"^the seed -1 is below 0; use 0, 1, 2 and so on$"):
        drill_new.new(CAESAREAN, tmp_path, seed=-1, voice="none")
