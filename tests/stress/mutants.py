"""Changes one operator, number or condition of a module at a time and asks whether a test notices.

    python tests/stress/mutants.py MODULE [--sample 40] [--seed 1]

MODULE is one of those in `HELD_BY`, as in light/photometry. The tree is copied, each change is made in the copy, and a
child of this process, which has loaded the libraries already, runs the tests that hold the module. What no test
notices is printed. Messages of errors, words for people and examples are left as they are.
"""

import argparse
import ast
import copy
import os
import random
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
HELD_BY = {
    "light/photometry": ("tests/light/test_photometry.py", "photometry"),
    "light/colorimetry": ("tests/light/test_colorimetry.py", "photometry or rules_colours"),
    "rules/colours": ("tests/rules/test_colours.py", "rules_colours"),
    "measurement/fair_ratio": ("tests/measurement/test_fair_ratio.py", "measurement"),
    "circuits/loads": ("tests/circuits/test_circuit_change.py tests/circuits/test_nodal_analysis.py", "circuit"),
    "circuits/network": ("tests/circuits/test_nodal_analysis.py tests/circuits/test_circuit_change.py", "circuit"),
    "circuits/wiring": ("tests/circuits/test_circuit_change.py tests/circuits/test_fuses.py", "circuit"),
    "circuits/circuit_change": ("tests/circuits/test_circuit_change.py tests/circuits/test_fuses.py", "circuit"),
    "circuits/fuses": ("tests/circuits/test_fuses.py tests/circuits/test_circuit_change.py", "circuit"),
    "circuits/flashers": ("tests/circuits/test_flashers.py tests/circuits/test_circuit_change.py", "circuit or timing"),
    "conversion/assessment": ("tests/conversion tests/test_one_lamp.py", "photometry or sources"),
    "plan/choice": ("tests/plan/test_choice.py tests/plan/test_sharing.py tests/plan/test_wishes.py", ""),
    "plan/decisions": ("tests/plan/test_choice.py", ""),
    "plan/selection": ("tests/plan/test_choice.py tests/plan/test_sharing.py tests/plan/test_wishes.py", ""),
    "plan/suitability": ("tests/plan/test_suitability.py tests/plan/test_stop_and_tail.py tests/plan/test_sharing.py "
                         "tests/plan/test_choice.py tests/plan/test_unknown.py", ""),
    "rules/intensity_limits": ("tests/rules", "requirements or rules"),
    "vehicle/file": ("tests/vehicle/test_vehicle.py tests/vehicle/test_schema.py tests/vehicle/test_lamps.py", ""),
    "visibility/brightness": ("tests/visibility", "visibility"),
    "visibility/sight": ("tests/visibility", "visibility or timing"),
}  # fmt: skip
"""The tests that hold a module, beside its examples, and the printed values that do."""

SECONDS = 60
"""Processor time after which a change counts as noticed: it never ends [s]."""

COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
REVERSED = {ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt}
COUNTED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.MatMult: ast.Add,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip


def places(tree: ast.AST) -> Iterator[ast.AST]:
    """Walk what is computed: no annotation, no text, nothing that only words an error."""
    for name, held in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        for node in held if isinstance(held, list) else [held]:
            if not isinstance(node, ast.AST) or isinstance(node, (ast.Raise, ast.Import, ast.ImportFrom)):
                continue
            if isinstance(node, ast.JoinedStr) or (isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)):
                continue
            yield node
            yield from places(node)


def changes(node: ast.AST) -> Iterator[ast.AST]:
    """Give what a node may turn into."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for table in (COMPARED, REVERSED):
            if type(node.ops[0]) in table:
                yield ast.Compare(node.left, [table[type(node.ops[0])]()], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in COUNTED:
        yield ast.BinOp(node.left, COUNTED[type(node.op)](), node.right)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        yield from node.values
    elif isinstance(node, ast.UnaryOp):
        yield node.operand
    elif isinstance(node, ast.IfExp):
        yield ast.IfExp(node.test, node.orelse, node.body)
    elif isinstance(node, ast.Return) and ast.unparse(node) not in ("return", "return None"):
        yield ast.Return(ast.Constant(None))
    elif isinstance(node, (ast.Continue, ast.Break)):
        yield ast.Pass()
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int):
        yield ast.Constant(node.value + 1)
    elif isinstance(node, ast.Constant) and isinstance(node.value, float):
        yield ast.Constant(node.value * 1.05 + 0.01 * (node.value == 0))


def mutants(text: str) -> list[tuple[int, str, str, str]]:
    """List line, old text, new text and the whole module of each change."""
    tree = ast.parse(text)
    found = []
    nodes = list(places(tree))
    for index, node in enumerate(nodes):
        for number, _ in enumerate(changes(node)):
            other = copy.deepcopy(tree)
            there = list(places(other))[index]
            new = list(changes(there))[number]
            before, line = ast.unparse(there), getattr(there, "lineno", 0)
            for parent in ast.walk(other):
                for name, held in ast.iter_fields(parent):
                    if held is there:
                        setattr(parent, name, new)
                    elif isinstance(held, list) and any(one is there for one in held):
                        held[[one is there for one in held].index(True)] = new
            found.append((line, before, ast.unparse(new), ast.unparse(ast.fix_missing_locations(other))))
    return found


def noticed(words: list[str]) -> bool:
    """Run tests in a child; tell whether one fails."""
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        import pytest

        options = ["-x", "-q", "-p", "no:cacheprovider", "-m", "not fuzz and not slow and not browser"]
        os._exit(int(pytest.main([*options, *words]) != 0))
    return os.waitpid(child, 0)[1] != 0


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("module", choices=HELD_BY)
    asked.add_argument("--sample", type=int, default=0, help="how many changes to try (all when left out)")
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    tests, printed = HELD_BY[given.module]
    own = [f"lampkit/{given.module}.py", *tests.split()]
    runs = [own]
    if printed:
        runs.append(["tests/test_published.py", "-k", f"test_published_value and ({printed})"])
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "tree"
        for name in ("lampkit", "data", "tests", "notebooks", "references"):
            shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        for name in ("pyproject.toml", "conftest.py", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / name, folder / name)
        os.chdir(folder)
        sys.path[:] = [str(folder), *(entry for entry in sys.path if Path(entry).resolve() != ROOT)]
        sys.dont_write_bytecode = True
        import hypothesis  # noqa: F401  loaded once, for every child
        import matplotlib.figure  # noqa: F401
        import pandas  # noqa: F401
        import pytest  # noqa: F401
        import scipy.optimize
        import scipy.stats  # noqa: F401

        file = folder / "lampkit" / f"{given.module}.py"
        text = file.read_text(encoding="utf-8")
        assert not any(map(noticed, runs)), "the tests fail before anything is changed"
        everything = mutants(text)
        tried = everything
        if 0 < given.sample < len(everything):
            tried = sorted(random.Random(given.seed).sample(everything, given.sample))
        began, left = time.monotonic(), 0
        for line, before, after, changed in tried:
            file.write_text(changed, encoding="utf-8")
            if not any(map(noticed, runs)):
                left += 1
                print(f"  line {line}: {before[:90]}  ->  {after[:90]}", flush=True)
        file.write_text(text, encoding="utf-8")
        seconds = time.monotonic() - began
        print(
            f"{given.module}: {len(tried)} of {len(everything)} changes tried, {left} left, {seconds:.0f} s", flush=True
        )


if __name__ == "__main__":
    main()
