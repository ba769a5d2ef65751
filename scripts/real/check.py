"""Runs the plans and checks what comes of them.

    check.py PROGRAM PLANS REAL [PLAN...]

PLANS is the folder of the plans; REAL holds maps/ and gets out/. Each plan
runs twice, the second time with one worker and little memory: the bytes must
be the same. Without a PLAN named, what must be refused is tried too.
"""
import filecmp
import json
import pathlib
import subprocess
import sys
import time

import figures
import outputs
import refusals


def run(program, plan, out, *options):
    done = subprocess.run([program, "run", plan, "--out", out, "--quiet", *options], capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"the run ended with {done.returncode}:\n{done.stderr}")
    if done.stderr:
        raise RuntimeError(f"--quiet, and yet it says:\n{done.stderr}")


def lasting(folder):
    """The account without what may differ from run to run."""
    account = json.loads((folder / "run.json").read_text())
    del account["this_run"]
    return account


def judge(program, plan, real, f):
    first, again = real / "out" / plan.stem, real / "out" / f"{plan.stem}_again"
    run(program, plan, first)
    run(program, plan, again, "--threads", "1", "--memory", "300M")
    for name in ("score.tif", "factors.tif", "hotspots.geojson"):
        f.that(filecmp.cmp(first / name, again / name, shallow=False), f"{name} has other bytes with one worker")
    f.that(lasting(first) == lasting(again), "the account differs with one worker outside this_run")
    results = outputs.Run(first)
    outputs.sound(results, f)
    getattr(figures, plan.stem)(results, real / "maps", f)


def main():
    program, plans, real, *chosen = sys.argv[1:]
    found = sorted(pathlib.Path(plans).glob("*.yaml"))
    wanted = [p for p in found if not chosen or p.stem in chosen]
    strange = set(chosen) - {p.stem for p in found}
    if strange or not wanted:
        sys.exit(f"realdata: no plan {', '.join(sorted(strange))} in {plans}: there are {', '.join(p.stem for p in found)}")
    f = outputs.Findings()
    for plan in wanted:
        f.where, before, begun = plan.stem, f.count, time.monotonic()
        try:
            judge(program, plan, pathlib.Path(real), f)
        except RuntimeError as e:
            f.that(False, str(e))
        print(f"{plan.stem}: {f.count - before} checks, {time.monotonic() - begun:.1f} s", flush=True)
    if not chosen:
        before = f.count
        refusals.check(program, pathlib.Path(plans), pathlib.Path(real), f)
        print(f"refusals: {f.count - before} checks", flush=True)
    if f.wrong:
        sys.exit("\n".join(["realdata: not as it should be:", *f.wrong]))
    print(f"realdata: {f.count} checks, all as they should be")


main()
