"""Train the phone head on the features, and write its weights.

    python -m training.train_head --data .cache/train --epochs 12
    python -m training.train_head --data .cache/train --minutes 9 --width 320 --state 320

Needs torch; a GPU is used when there is one and is not needed. With --minutes, as many whole epochs
are planned as fit; the card in the weights says how many, so that the run can be repeated.
"""

import argparse
import json
import time
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import nn

from voicecount.hear.embedded.head import WEIGHTS, PhoneHead
from voicecount.words.pronounce import PHONES

SEED = 20261125


class Head(nn.Module):
    """The same layers as voicecount.hear.embedded.head, for training."""

    def __init__(self, ears: int = 288, width: int = 256, state: int = 208) -> None:
        super().__init__()
        self.norm = nn.LayerNorm(ears)
        self.conv = nn.Conv1d(ears, width, 5, padding=2)
        self.gru = nn.GRU(
            width, state, num_layers=2, bidirectional=True, batch_first=True, dropout=0.15
        )
        self.out = nn.Linear(2 * state, 2 * (len(PHONES) + 1))
        self.drop = nn.Dropout(0.1)

    def forward(self, frames: torch.Tensor, lengths: torch.Tensor) -> torch.Tensor:
        """Turn frames (batch, n, ears) into log-probabilities (2 n, batch, 40)."""
        hidden = self.conv(self.norm(frames).transpose(1, 2)).transpose(1, 2)
        hidden = self.drop(nn.functional.gelu(hidden, approximate="tanh"))
        packed = nn.utils.rnn.pack_padded_sequence(
            hidden, lengths.cpu(), batch_first=True, enforce_sorted=False
        )
        hidden, _ = nn.utils.rnn.pad_packed_sequence(
            self.gru(packed)[0], batch_first=True, total_length=frames.shape[1]
        )
        out = self.out(self.drop(hidden))
        return out.reshape(len(out), -1, len(PHONES) + 1).log_softmax(2).transpose(0, 1)


class Data:
    """All utterances, end to end: frames (n, ears) and targets, on the device where they fit."""

    def __init__(self, folder: Path, device: str) -> None:
        paths = sorted(folder.glob("[0-9]*.npz"))
        parts: dict[str, list[Any]] = {"frames": [], "lengths": [], "targets": [], "sizes": []}
        for path in paths:
            with np.load(path) as file:
                for name, found in parts.items():
                    found.append(file[name])
        self.device = device
        self.lengths = np.concatenate(parts["lengths"])
        self.sizes = np.concatenate(parts["sizes"])
        frames = parts.pop("frames")
        self.ears = int(frames[0].shape[1])
        self._frames = torch.empty((int(self.lengths.sum()), self.ears), dtype=torch.float16)
        at = 0
        for part in frames:
            self._frames[at : at + len(part)] = torch.from_numpy(part)
            at += len(part)
        self._frames = self._frames.to(device)
        self._targets = torch.from_numpy(np.concatenate(parts["targets"]).astype(np.int64))
        self._starts = np.concatenate([[0], np.cumsum(self.lengths)[:-1]])
        self._firsts = np.concatenate([[0], np.cumsum(self.sizes)[:-1]])

    def __len__(self) -> int:
        return len(self.lengths)

    def target(self, index: int) -> list[int]:
        """Give the phones of one utterance."""
        first = self._firsts[index]
        return [int(p) for p in self._targets[first : first + self.sizes[index]]]

    def batch(self, group: list[int]) -> Any:
        """Give frames (batch, n, ears), lengths, targets and their sizes."""
        lengths = self.lengths[group]
        offsets = np.minimum(np.arange(lengths.max())[None], lengths[:, None] - 1)
        places = torch.from_numpy(self._starts[group][:, None] + offsets).to(self.device)
        wanted = [self._targets[self._firsts[i] : self._firsts[i] + self.sizes[i]] for i in group]
        return (
            self._frames[places].float(),
            torch.from_numpy(lengths),
            torch.cat(wanted).to(self.device),
            torch.from_numpy(self.sizes[group]),
        )


def batches(data: Data, held: int, rng: np.random.Generator, size: int) -> list[list[int]]:
    """Make groups of about ``size`` frames of like lengths, in random order."""
    lengths = data.lengths[held:] * rng.uniform(0.9, 1.1, len(data) - held)
    groups: list[list[int]] = []
    group: list[int] = []
    for index in np.argsort(lengths) + held:
        group.append(int(index))
        if len(group) * data.lengths[index] > size:
            groups.append(group)
            group = []
    if group:
        groups.append(group)
    rng.shuffle(groups)
    return groups


def mask(frames: torch.Tensor) -> torch.Tensor:
    """Hide a few short stretches of time and a band of features."""
    for _ in range(2):
        width = int(torch.randint(1, 6, ()))
        at = int(torch.randint(0, max(1, frames.shape[1] - width), ()))
        frames[:, at : at + width] = 0
    at = int(torch.randint(0, frames.shape[2] - 24, ()))
    frames[:, :, at : at + int(torch.randint(0, 24, ()))] = 0
    return frames


def errors(found: list[int], wanted: list[int]) -> int:
    """Give the edit distance."""
    row = list(range(len(wanted) + 1))
    for i, a in enumerate(found, 1):
        last, row[0] = row[0], i
        for j, b in enumerate(wanted, 1):
            last, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, last + (a != b))
    return row[-1]


def phone_error(head: Head, data: Data, held: int) -> float:
    """Give the share of wrong phones by the best path, on held-out utterances."""
    head.eval()
    wrong = total = 0
    with torch.no_grad():
        for at in range(0, held, 64):
            group = list(range(at, min(at + 64, held)))
            batch, lengths, _, _ = data.batch(group)
            best = head(batch, lengths).argmax(2).T.cpu().numpy()
            for row, i in enumerate(group):
                path = best[row, : 2 * int(lengths[row])]
                kept = path[np.insert(path[1:] != path[:-1], 0, True)]
                wrong += errors([int(p) for p in kept if p], data.target(i))
                total += int(data.sizes[i])
    head.train()
    return wrong / total


def _head(start: Path | None, ears: int, width: int, state: int) -> Head:
    """Make a new head, or one with the weights of a file."""
    if start is None:
        return Head(ears, width, state)
    with np.load(start) as file:
        found = {k: torch.from_numpy(file[k].astype(np.float32)) for k in file if k != "card"}
    head = Head(ears, len(found["conv.bias"]), found["gru.weight_hh_l0"].shape[1])
    head.load_state_dict(found)
    return head


def learn(head: Head, optimiser: Any, batch: Any) -> torch.Tensor:
    """Take one step; gives the loss."""
    frames, lengths, wanted, sizes = batch
    out = head(mask(frames), lengths)
    loss = nn.functional.ctc_loss(out, wanted, 2 * lengths, sizes, zero_infinity=True)
    optimiser.zero_grad(set_to_none=True)
    loss.backward()
    nn.utils.clip_grad_norm_(head.parameters(), 2.0)
    optimiser.step()
    return loss.detach()


def seconds_a_step(head: Head, data: Data, groups: list[list[int]]) -> float:
    """Time some steps of a head that is thrown away."""
    optimiser = torch.optim.AdamW(head.parameters(), 1e-4)
    for group in groups[:10]:
        learn(head, optimiser, data.batch(group)).item()
    begun = time.monotonic()
    for group in groups[10:60]:
        learn(head, optimiser, data.batch(group)).item()
    return (time.monotonic() - begun) / len(groups[10:60])


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", default=".cache/train")
    parser.add_argument("--epochs", type=int, default=12)
    parser.add_argument("--minutes", type=float, help="plan as many epochs as fit in this time")
    parser.add_argument("--start", type=Path, help="go on from these weights, at half the rate")
    parser.add_argument("--width", type=int, default=256, help="channels of the convolution")
    parser.add_argument("--state", type=int, default=208, help="size of each recurrent layer")
    parser.add_argument("--average", action="store_true", help="at the end, mean of start and end")
    parser.add_argument("--out", default=str(WEIGHTS / "phone_head_a.npz"))
    given = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    data = Data(Path(given.data), device)
    held = len(data) // 50
    hours = float(data.lengths.sum()) * (0.024 if data.ears == 288 else 0.02) / 3600
    print(f"{len(data)} utterances, {hours:.1f} hours, on {device}", flush=True)
    size = 36_000 if device == "cuda" else 6_000
    groups = batches(data, held, np.random.default_rng(0), size)
    new_head = partial(_head, given.start, data.ears, given.width, given.state)
    epochs = given.epochs
    if given.minutes:
        epoch_seconds = seconds_a_step(new_head().to(device), data, groups) * len(groups) * 1.08 + 5
        epochs = max(1, int(given.minutes * 60 / epoch_seconds))
        print(f"{epoch_seconds:.1f} s an epoch: {epochs} epochs planned", flush=True)
    torch.manual_seed(SEED)
    rng = np.random.default_rng(SEED)
    head = new_head().to(device)
    steps = len(groups) * epochs
    rate = 1.25e-3 if given.start else 2.5e-3
    optimiser = torch.optim.AdamW(head.parameters(), rate, weight_decay=0.01)
    plan = torch.optim.lr_scheduler.OneCycleLR(optimiser, rate, steps + 50, pct_start=0.1)
    begun, report = time.monotonic(), {}
    for epoch in range(epochs):
        losses = []
        for group in batches(data, held, rng, size):
            losses.append(learn(head, optimiser, data.batch(group)))
            plan.step()
        error = phone_error(head, data, held)
        report = {
            "epoch": epoch + 1,
            "planned": epochs,
            "loss": float(torch.stack(losses).mean()),
            "held_out_phone_error": error,
        }
        print(
            f"epoch {epoch + 1}: loss {report['loss']:.3f}, phone error on held-out synthetic "
            f"speech {error:.3f}, {(time.monotonic() - begun) / 60:.1f} min",
            flush=True,
        )
        report |= {"utterances": len(data), "hours": round(hours, 1)}
        report["went_on_from"] = given.start.name if given.start else ""
        save(head, given.out, report)
    if given.start and given.average:
        ended, state = head.state_dict(), new_head().state_dict()
        head.load_state_dict({k: (v + state[k].to(device)) / 2 for k, v in ended.items()})
        report |= {"held_out_phone_error": phone_error(head, data, held), "averaged": True}
        save(head, given.out, report)
    check(head, given.out, data)


def save(head: Head, out: str, report: dict[str, Any]) -> None:
    """Write the weights as half-precision arrays with a short card."""
    card = {"version": f"phone-head-{SEED}-3", "phones": list(PHONES), **report}
    arrays = {k: v.detach().cpu().numpy().astype(np.float16) for k, v in head.state_dict().items()}
    Path(out).parent.mkdir(parents=True, exist_ok=True)
    np.savez(out, card=json.dumps(card), **arrays)


def check(head: Head, out: str, data: Data) -> None:
    """Compare the shipped numpy code with torch on one utterance."""
    head.eval()
    with torch.no_grad():
        batch, lengths, _, _ = data.batch([0])
        wanted = head(batch, lengths)[:, 0].cpu().numpy()
    got = PhoneHead.load(Path(out)).log_probabilities(batch[0].cpu().numpy())
    worst = float(np.abs(np.exp(got) - np.exp(wanted)).max())
    print(f"largest difference of a probability between numpy and torch: {worst:.4f}")


if __name__ == "__main__":
    main()
