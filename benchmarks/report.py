"""What the hearing benchmark found, as a page with pictures in docs/.

    python -m benchmarks.report .cache/noise_test.jsonl
    python -m benchmarks.report .cache/noise_test.jsonl --peers .cache/peers.jsonl

The page is docs/hearing.md, the pictures docs/pictures/hearing.png and, where the evidence holds
probabilities, reliability.png (they need matplotlib). Evidence of benchmarks/side_by_side.py makes
docs/peers.md and docs/pictures/peers.png.
"""

import argparse
import json
from pathlib import Path

from benchmarks import comparison, pictures
from benchmarks.figures import Row, by_item, by_number, table, wrongly
from benchmarks.reliability import as_table, bins, settings
from voicecount.hear.embedded.odds import Odds

DOCS = Path(__file__).parent.parent / "docs"


def page(rows: list[Row], *, peers: bool = False) -> str:
    """Write the page on hearing."""
    voices = len({row["voice"] for row in rows})
    parts = [
        f"""# Hearing, measured in noise

Made by `python -m benchmarks.report`: {len(rows)} utterances of {voices} voices, at first hearing,
with no expected total used. How tuning and test are kept apart, and what was measured in quiet, is
in [measured.md](measured.md). The level is that of the voice's loud parts over the noise.

{table(rows)}

![What became of the counts, and which numbers were confused](pictures/hearing.png)"""
    ]
    if any(row.get("meant") for row in rows):
        parts.append(
            f"## Errors by item and by number\n\nAll conditions together, the worst first. A count "
            f"with several numbers stands in the line of each.\n\n{by_item(rows)}\n\n"
            f"{by_number(rows)}"
        )
    if found := bins(rows):
        parts.append(
            "## Is the probability of being wrong true?\n\n"
            "The decision works with the probability that its best reading is wrong. Here it is "
            f"beside\nwhat was found for counts, all conditions together.\n\n{as_table(found)}\n\n"
            "![Said and found](pictures/reliability.png)\n\n## One setting\n\n"
            "What `wrong_per_thousand` would have accepted, all conditions together; 3 is the "
            f"default.\n\n{settings(rows, Odds.load().limit)}"
        )
    if peers:
        parts.append(
            "## Beside other recognisers\n\nThe same clips in one run: [peers.md](peers.md)."
        )
    parts.append("## Accepted wrong\n\n" + "\n".join(wrongly(rows)))
    return "\n\n".join(parts) + "\n"


def _rows(files: list[Path]) -> list[Row]:
    try:
        return [json.loads(line) for file in files for line in file.open(encoding="utf-8")]
    except OSError as error:
        raise SystemExit(f"{error.filename}: cannot be read ({error.strerror})") from error
    except json.JSONDecodeError as error:
        raise SystemExit(
            f"{files[0]}: no evidence of a benchmark; give what --evidence wrote"
        ) from error


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("evidence", type=Path, nargs="*", help="what hearing.py kept")
    parser.add_argument(
        "--peers", type=Path, nargs="*", default=[], help="what side_by_side.py kept"
    )
    given = parser.parse_args()
    if not given.evidence and not given.peers:
        parser.error("give evidence of hearing.py, or --peers with evidence of side_by_side.py")
    drawn = DOCS / "pictures"
    if given.peers:
        rows = _rows(given.peers)
        pictures.side_by_side(comparison.shares(rows), drawn / "peers.png")
        (DOCS / "peers.md").write_text(comparison.page(rows), encoding="utf-8")
        print(f"{DOCS / 'peers.md'} and {drawn / 'peers.png'} are written")
    if given.evidence:
        rows = _rows(given.evidence)
        pictures.picture(rows, drawn / "hearing.png")
        if found := bins(rows):
            pictures.reliability(found, drawn / "reliability.png")
        peers = (DOCS / "peers.md").exists()
        (DOCS / "hearing.md").write_text(page(rows, peers=peers), encoding="utf-8")
        print(f"{DOCS / 'hearing.md'} and {drawn / 'hearing.png'} are written")


if __name__ == "__main__":
    main()
