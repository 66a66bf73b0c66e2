"""Measure this tree against version 0.1.0, or against itself before a change.

    python -m tests.baseline [TRIP ...]        plan with both versions and compare
    python -m tests.baseline freeze FOLDER     keep all results of this tree
    python -m tests.baseline compare FOLDER    plan again and compare with what was kept
    python -m tests.baseline waste             what one and two riders waste, eat and carry, both

Without trips all ten are taken. Results lie in `--out`; what has been planned with the same code
and inputs is not planned again. The folder of a tree is named as its own folder is.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.baseline.compare import compare_results, differing_figures
from tests.baseline.figures import read_figures
from tests.baseline.run import old_tree, plan_with
from tests.baseline.trips import ROOT, SAMPLES, STYLES, TRIPS, UNDER_WAY, make_inputs, styled
from tests.baseline.waste import measure


def main() -> None:
    """Read the command line and do what it says."""
    ask = argparse.ArgumentParser("tests.baseline", description=__doc__, formatter_class=_Plain)
    ask.add_argument("words", nargs="*", metavar="TRIP | freeze … | compare … | waste")
    ask.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "resupply-baseline")
    ask.add_argument("--tree", type=Path, default=ROOT, help="code to measure; this tree")
    ask.add_argument("--old", type=Path, help="a worktree of version 0.1.0 that is there already")
    ask.add_argument(
        "--trips", nargs="+", choices=TRIPS, default=TRIPS, help="for freeze, compare, waste"
    )
    given = ask.parse_args()
    out, tree = given.out.resolve(), given.tree.resolve()
    old = old_tree(ROOT, given.old.resolve() if given.old else out / "tree-0.1.0")
    if given.words[:1] in (["freeze"], ["compare"]):
        if len(given.words) != 2:
            ask.error(f"{given.words[0]} takes one folder")
        what, folder = given.words[0], Path(given.words[1]).resolve()
        make_inputs(tuple(given.trips), out / "inputs", old / "sample_routes")
        if what == "freeze":
            plan_all(tree, tuple(given.trips), out / "inputs", folder)
        else:
            now = out / f"{tree.name}-frozen"
            plan_all(tree, tuple(given.trips), out / "inputs", now)
            print(compared(tuple(given.trips), folder, now))
        return
    if given.words == ["waste"]:
        make_inputs(tuple(given.trips), out / "inputs", old / "sample_routes")
        measure(tuple(given.trips), old, out / "inputs", out)
        return
    unknown = [name for name in given.words if name not in TRIPS]
    if unknown:
        ask.error(f"no trip {unknown[0]}; there are {', '.join(TRIPS)}")
    names = tuple(given.words) or TRIPS
    make_inputs(names, out / "inputs", old / "sample_routes")
    for name in names:
        for code, results in ((old, out / "0.1.0"), (tree, out / tree.name)):
            plan_with(code, ["plan"], out / "inputs" / f"{name}.toml", results / name)
    text = against(names, out / "0.1.0", out / tree.name)
    (out / tree.name / "comparison.txt").write_text(text + "\n", "utf-8")
    print(text)


def against(names: tuple[str, ...], before: Path, now: Path) -> str:
    """Tell the figures of the trips that differ between two folders of results."""
    blocks = []
    for name in names:
        paths = [results / name / "plan.json" for results in (before, now)]
        if not all(path.exists() for path in paths):
            blocks.append(f"{name}\n    not planned by both: see run.txt")
            continue
        old, new = (read_figures(path) for path in paths)
        lines = differing_figures(old, new) or ["no figure differs"]
        head = (
            f"{name}: {new['length_km']} km, {new['days']} days; stops {old['stops']} -> "
            f"{new['stops']}, most meals {old['carry_most_meals']} -> {new['carry_most_meals']}"
        )
        blocks.append("\n    ".join([head, *lines]))
    return "\n\n".join(blocks)


def plan_all(tree: Path, names: tuple[str, ...], inputs: Path, folder: Path) -> None:
    """Plan every trip in both units and clocks, and one of them from under way."""
    for style in STYLES:
        for name in names:
            trip = styled(name, style, inputs)
            plan_with(tree, ["plan"], trip, folder / f"{name}.{style}")
        if SAMPLES[0] in names:
            trip = styled(SAMPLES[0], style, inputs)
            plan_with(tree, ["here", *UNDER_WAY], trip, folder / f"under_way.{style}")


def compared(names: tuple[str, ...], old: Path, new: Path) -> str:
    """Tell all that differs between two folders of frozen results."""
    blocks = []
    for style in STYLES:
        for name in (*names, *(["under_way"] if SAMPLES[0] in names else [])):
            one = f"{name}.{style}"
            lines = compare_results(old / one, new / one) or ["the same, byte for byte"]
            blocks.append("\n    ".join([one, *lines]))
    return "\n\n".join(blocks)


class _Plain(argparse.RawDescriptionHelpFormatter):
    """Keep the lines of the description."""


if __name__ == "__main__":
    main()
