"""Train the phone head on the features, and write its weights.

    python training/train_head.py --data .cache/train --epochs 12

Needs torch; a GPU is used when there is one and is not needed.
"""

import argparse
import json
import time
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

    def __init__(self, width: int = 256, state: int = 208) -> None:
        super().__init__()
        self.norm = nn.LayerNorm(288)
        self.conv = nn.Conv1d(288, width, 5, padding=2)
        self.gru = nn.GRU(
            width, state, num_layers=2, bidirectional=True, batch_first=True, dropout=0.15
        )
        self.out = nn.Linear(2 * state, 2 * (len(PHONES) + 1))
        self.drop = nn.Dropout(0.1)

    def forward(self, frames: torch.Tensor, lengths: torch.Tensor) -> torch.Tensor:
        """Turn frames (batch, n, 288) into log-probabilities (2 n, batch, 40)."""
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


def load(folder: Path) -> tuple[list[Any], list[Any]]:
    """Read all frames and targets, in order."""
    frames, targets = [], []
    for path in sorted(folder.glob("[0-9]*.npz")):
        with np.load(path) as file:
            frames += np.split(file["frames"], np.cumsum(file["lengths"])[:-1])
            targets += np.split(file["targets"], np.cumsum(file["sizes"])[:-1])
    return frames, targets


def batches(frames: list[Any], rng: np.random.Generator, size: int) -> list[list[int]]:
    """Make groups of about ``size`` frames of like lengths, in random order."""
    lengths = np.array([len(f) for f in frames]) * rng.uniform(0.9, 1.1, len(frames))
    order = np.argsort(lengths)
    groups: list[list[int]] = []
    group: list[int] = []
    for index in order:
        group.append(int(index))
        if len(group) * len(frames[index]) > size:
            groups.append(group)
            group = []
    if group:
        groups.append(group)
    rng.shuffle(groups)
    return groups


def collate(frames: list[Any], targets: list[Any], group: list[int], device: str) -> Any:
    """Put one batch on the device."""
    lengths = torch.tensor([len(frames[i]) for i in group])
    batch = np.zeros((len(group), int(lengths.max()), 288), np.float16)
    for row, i in enumerate(group):
        batch[row, : len(frames[i])] = frames[i]
    wanted = torch.tensor(np.concatenate([targets[i] for i in group]).astype(np.int64))
    sizes = torch.tensor([len(targets[i]) for i in group])
    return torch.from_numpy(batch).to(device).float(), lengths, wanted.to(device), sizes


def mask(frames: torch.Tensor) -> torch.Tensor:
    """Hide a few short stretches of time and a band of features."""
    for _ in range(2):
        width = int(torch.randint(1, 6, ()))
        at = int(torch.randint(0, max(1, frames.shape[1] - width), ()))
        frames[:, at : at + width] = 0
    at = int(torch.randint(0, 288 - 24, ()))
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


def phone_error(head: Head, frames: list[Any], targets: list[Any], device: str) -> float:
    """Give the share of wrong phones by the best path, on held-out utterances."""
    head.eval()
    wrong = total = 0
    with torch.no_grad():
        for at in range(0, len(frames), 32):
            group = list(range(at, min(at + 32, len(frames))))
            batch, lengths, _, _ = collate(frames, targets, group, device)
            best = head(batch, lengths).argmax(2).T.cpu().numpy()
            for row, i in enumerate(group):
                path = best[row, : 2 * int(lengths[row])]
                kept = path[np.insert(path[1:] != path[:-1], 0, True)]
                wrong += errors([int(p) for p in kept if p], [int(p) for p in targets[i]])
                total += len(targets[i])
    head.train()
    return wrong / total


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", default=".cache/train")
    parser.add_argument("--epochs", type=int, default=12)
    parser.add_argument("--minutes", type=float, default=1e9, help="stop in time")
    parser.add_argument("--out", default=str(WEIGHTS))
    given = parser.parse_args()
    torch.manual_seed(SEED)
    rng = np.random.default_rng(SEED)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    frames, targets = load(Path(given.data))
    held = len(frames) // 40
    hours = sum(map(len, frames)) * 0.024 / 3600
    print(f"{len(frames)} utterances, {hours:.1f} hours, on {device}", flush=True)
    head = Head().to(device)
    size = 16_000 if device == "cuda" else 6_000
    steps = len(batches(frames[held:], np.random.default_rng(0), size)) * given.epochs
    optimiser = torch.optim.AdamW(head.parameters(), 2e-3, weight_decay=0.01)
    plan = torch.optim.lr_scheduler.OneCycleLR(optimiser, 2.5e-3, steps + 10, pct_start=0.1)
    begun, report = time.monotonic(), {}
    for epoch in range(given.epochs):
        losses = []
        for group in batches(frames[held:], rng, size):
            batch, lengths, wanted, sizes = collate(
                _Tail(frames, held), _Tail(targets, held), group, device
            )
            out = head(mask(batch), lengths)
            loss = nn.functional.ctc_loss(out, wanted, 2 * lengths, sizes, zero_infinity=True)
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            nn.utils.clip_grad_norm_(head.parameters(), 2.0)
            optimiser.step()
            plan.step()
            losses.append(float(loss.detach()))
        rate = phone_error(head, frames[:held], targets[:held], device)
        minutes = (time.monotonic() - begun) / 60
        report = {"epoch": epoch + 1, "loss": float(np.mean(losses)), "held_out_phone_error": rate}
        print(
            f"epoch {epoch + 1}: loss {report['loss']:.3f}, phone error on held-out synthetic "
            f"speech {rate:.3f}, {minutes:.1f} min",
            flush=True,
        )
        save(head, given.out, {**report, "hours": round(hours, 1), "device": device})
        if minutes > given.minutes:
            break
    check(head, given.out, frames[0], device)


class _Tail:
    """The training part of a list, without copying it."""

    def __init__(self, items: list[Any], held: int) -> None:
        self.items, self.held = items, held

    def __getitem__(self, index: int) -> Any:
        return self.items[self.held + index]


def save(head: Head, out: str, report: dict[str, Any]) -> None:
    """Write the weights as half-precision arrays with a short card."""
    card = {"version": f"phone-head-{SEED}-1", "phones": list(PHONES), **report}
    arrays = {k: v.detach().cpu().numpy().astype(np.float16) for k, v in head.state_dict().items()}
    Path(out).parent.mkdir(parents=True, exist_ok=True)
    np.savez(out, card=json.dumps(card), **arrays)


def check(head: Head, out: str, frames: Any, device: str) -> None:
    """Compare the shipped numpy code with torch on one utterance."""
    head.eval()
    with torch.no_grad():
        batch = torch.from_numpy(frames[None].astype(np.float32)).to(device)
        wanted = head(batch, torch.tensor([len(frames)]))[:, 0].cpu().numpy()
    got = PhoneHead.load(Path(out)).log_probabilities(frames.astype(np.float32))
    worst = float(np.abs(np.exp(got) - np.exp(wanted)).max())
    print(f"largest difference of a probability between numpy and torch: {worst:.4f}")


if __name__ == "__main__":
    main()
