"""One source, several lives: compiled, traced and uncompiled agree, and a trace tells what was really used."""

from __future__ import annotations

import math
import os
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from glandwise.mechanics import following, kinematics, shells
from glandwise.numerics import arithmetic, sources
from glandwise.numerics.compiled import compiled
from glandwise.numerics.dimensions import PLAIN, dimension, over, spelled, times
from glandwise.numerics.docstring import Quantity, declared
from glandwise.numerics.lives import Life
from glandwise.numerics.trace import Traced, Working, calm, labelled, leaf, records, traced

from tests.mechanics.support import relaxation


def given(value: float, symbol: str, unit: str, record: object = None) -> Traced:
    return leaf(value, Quantity(symbol, unit, f"the {symbol}"), "request", record)


@pytest.mark.parametrize("d", [0.06, 0.0, -1.0, math.nan, math.inf, 1e300])
@pytest.mark.parametrize("n", [7.0, 0.0, -2.0, math.nan, -math.inf, 1e300])
def test_lives_agree(d: float, n: float) -> None:
    for formula in (kinematics.surface_speed, kinematics.rotation_speed):
        told = float(traced(formula)(given(d, "d", "m"), given(n, "n", "rev/s")))
        with np.errstate(all="ignore"):
            plain = float(calm(formula)(np.float64(d), np.float64(n)))
        np.testing.assert_equal([compiled(formula)(d, n), plain], [told, told])


def test_a_life_is_made_once_whoever_asks_first() -> None:
    """Python's compiler of syntax trees fails where several threads use it at once."""
    made, most, under_way = list[object](), 0, 0

    def dress(copy: object, original: object) -> object:
        nonlocal most, under_way
        under_way += 1
        most = max(most, under_way)
        time.sleep(0.002)
        under_way -= 1
        made.append(original)
        return copy

    life, other = Life(dress), Life(dress)
    formulas = [kinematics.surface_speed, kinematics.rotation_speed, shells.length_parameter]
    with ThreadPoolExecutor(8) as threads:
        asked = [threads.submit(one, formula) for formula in formulas for one in (life, other) for _ in range(4)]
        found = [item.result() for item in asked]
    assert most == 1
    assert all(made.count(formula) == 2 for formula in formulas)  # once a life
    assert len({id(item) for item in found}) == 2 * len(formulas)


def test_a_working_has_symbols_equation_inputs_and_source() -> None:
    v = traced(kinematics.surface_speed)(given(0.06, "d", "m"), given(7.0, "n", "rev/s"))
    working = Working(v)
    assert [working.symbol(step) for step in working.steps] == ["d", "n", "v"]
    last = working.steps[-1]
    assert working.equation(last) == "pi * d * abs(n)"
    assert working.inputs(last) == {"d": 0.06, "n": 7.0}
    assert last.title == "Surface speed"
    assert last.source == declared(kinematics.surface_speed).references
    assert not any(step.fault for step in working.steps)


def test_a_symbol_stands_for_one_number() -> None:
    v = traced(kinematics.surface_speed)
    n = given(7.0, "n", "rev/s")
    working = Working((v(given(0.06, "d", "m"), n), v(given(0.08, "d", "m"), n)))
    symbols = [working.symbol(step) for step in working.steps]
    assert len(set(symbols)) == len(symbols) == 5


def test_reading_a_trace_changes_nothing_in_it() -> None:
    d, n = given(0.06, "d", "m"), given(7.0, "n", "rev/s")
    Working(traced(kinematics.surface_speed)(d, n), given(1.0, "d", "m"))
    assert Working(d).symbol(d.tree) == "d"


def test_records_are_those_that_were_used() -> None:
    one, other = object(), object()
    v = traced(kinematics.surface_speed)(given(0.06, "d", "m", one), given(7.0, "n", "rev/s"))
    traced(kinematics.surface_speed)(given(0.06, "d", "m", other), given(7.0, "n", "rev/s"))
    assert records(v) == (one,)


def test_a_wrong_unit_is_found() -> None:
    v = traced(kinematics.surface_speed)(given(0.06, "d", "kg"), given(7.0, "n", "rev/s"))
    assert Working(v).steps[-1].fault == "declared m/s, found kg·s^-1"


def test_the_lesser_and_the_greater_are_not_known_when_either_is_not() -> None:
    for choose in (arithmetic.least, arithmetic.greatest):
        assert math.isnan(choose(math.nan, 1.0))
        assert math.isnan(choose(1.0, math.nan))
    assert arithmetic.least(1.0, 2.0) == 1.0
    assert arithmetic.greatest(1.0, 2.0) == 2.0


def test_a_working_shows_both_of_which_one_is_the_lesser() -> None:
    one, other = object(), object()
    a, b = given(1.0, "a", "m", one), given(2.0, "b", "m", other)
    lesser = traced(arithmetic.least)(a, b) * 2.0
    working = Working(traced(kinematics.surface_speed)(lesser, given(7.0, "n", "rev/s")))
    assert working.equation(working.steps[-1]) == "pi * min(a, b) * 2 * abs(n)"
    assert set(records(lesser)) == {one, other}
    assert traced(arithmetic.greatest)(a, 3.0).dim == dimension("m")
    assert traced(arithmetic.greatest)(a, given(1.0, "t", "s")).dim is None


def test_functions_of_numbers_do_not_raise() -> None:
    assert arithmetic.FUNCTIONS["log1p"](-1.0) == arithmetic.FUNCTIONS["log"](0.0) == -math.inf
    assert math.isnan(arithmetic.FUNCTIONS["log1p"](-2.0))
    assert math.isnan(arithmetic.FUNCTIONS["log"](-1.0))


@pytest.mark.parametrize("unit", ["W/(m²·K)", "1/m", "N/m²", "J/mol", "m²/s", "-", "rev/s", "Pa"])
def test_units_are_read(unit: str) -> None:
    assert dimension(unit) == over(times(dimension(unit), dimension("N·m")), dimension("J"))
    assert spelled(dimension("N·m/(m·N)")) == "1"
    assert dimension("rad") == PLAIN


@pytest.mark.parametrize("unit", ["psi", "W/m K", "__import__('os')", "m**m"])
def test_what_is_no_unit_is_refused(unit: str) -> None:
    with pytest.raises((ValueError, SyntaxError)):
        dimension(unit)


_CALLER = "from glandwise_scratch.called import inner\n\n\ndef outer(x: float) -> float:\n    return 2.0 * inner(x)\n"


def test_an_edit_in_another_file_is_seen(tmp_path: Path) -> None:
    """The compiler looks at the file of the function that Python calls alone: the digest of all sources has to tell."""
    code = (
        "import sys; from pathlib import Path; from glandwise.numerics import sources\n"
        "sources.PACKAGE, sources.ROOMS = Path(sys.argv[1]), ('physics',)\n"
        "print(sources.digest())"
    )
    room = tmp_path / "physics"
    room.mkdir()
    seen = set()
    for factor in ("2.0", "3.0"):
        (room / "called.py").write_text(f"def inner(x: float) -> float:\n    return {factor} * x\n")
        (room / "caller.py").write_text(_CALLER)
        done = subprocess.run([sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True)
        seen.add(done.stdout)
    assert len(seen) == 2


def test_the_machine_code_is_kept_under_the_digest() -> None:
    code = "import os, glandwise.numerics.compiled; print(os.environ['NUMBA_CACHE_DIR'])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert Path(done.stdout.strip()).name == sources.digest()[:16]


def test_other_clones_of_the_same_sources_take_the_machine_code_as_it_is(tmp_path: Path) -> None:
    code = (
        "from glandwise.mechanics import kinematics; from glandwise.numerics.compiled import compiled;"
        "speed = compiled(kinematics.surface_speed); speed(0.06, 7.0);"
        "print(kinematics.__file__, sum(speed.stats.cache_hits.values()))"
    )
    here, clone = sources.PACKAGE.parent, tmp_path / "clone"
    shutil.copytree(sources.PACKAGE, clone / "glandwise", ignore=shutil.ignore_patterns("__pycache__"))

    def hits(place: Path) -> int:
        environment = {**os.environ, "GLANDWISE_CACHE": str(tmp_path / "cache"), "PYTHONPATH": str(place)}
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment)
        file, found = done.stdout.rsplit(" ", 1)
        assert Path(file).is_relative_to(place)
        return int(found)

    assert [hits(place) for place in (here, clone)] == [0, 1]
    edited = clone / "glandwise" / "mechanics" / "shells.py"
    edited.write_text(edited.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert hits(clone) == 0


def test_an_opaque_function_tells_each_of_its_values_in_words() -> None:
    lip = traced(shells.lip_shell)(
        given(0.03, "r", "m"), given(1e-3, "t", "m"), given(6e-3, "L", "m"), given(0.46, "nu", "-")
    )
    found = {step.symbol: step for step in Working(lip).steps if step.words}
    assert list(found) == ["phi_k", "phi_c", "phi_s"]
    assert len({step.words for step in found.values()}) == len({step.title for step in found.values()}) == 3
    assert all(step.source == declared(shells.end_functions).references for step in found.values())


def test_an_opaque_function_raises_nothing_in_a_trace() -> None:
    assert math.isnan(traced(shells.mass_share)(given(math.inf, "x", "-")))
    assert math.isnan(traced(shells.mass_share)(math.inf))


def test_words_speak_of_arguments_by_their_symbols() -> None:
    share = traced(shells.mass_share)
    one, other = share(given(1.5, "x", "-")), share(given(2.0, "x", "-"))
    working = Working((one, other, share(2.0 * given(3.0, "y", "-"))))
    words = {working.symbol(step): working.words(step) for step in working.steps}
    assert words["phi_m"].startswith("3 * (cosh(x)**2 + cos(x)**2) / (4 * x * ")
    assert words["phi_m_2"].startswith("3 * (cosh(x_2)**2 + cos(x_2)**2) / (4 * x_2 * ")
    assert words["phi_m_3"].startswith("3 * (cosh((2 * y))**2 + ")
    assert words["x"] == ""


def test_two_calls_are_told_apart_by_the_names_of_what_they_gave() -> None:
    lip = traced(following.held_lip)
    series = relaxation(0.6, [0.4], [10.0]).told

    def held(value: float) -> following.HeldLip:
        return lip(*(given(value, q.symbol, q.unit) for q in declared(following.held_lip).given.values()), series)

    def symbols(cold: float, hot: float) -> set[str]:
        lips = held(cold), held(hot)
        limit = traced(following.followed_runout)(*lips, given(1.0, "omega", "rad/s"), given(0.0, "a", "m"), series)
        working = Working(limit)
        return {working.symbol(step) for step in working.steps}

    assert {"Z_cold", "Z_hot", "k_re_cold", "k_re_hot"} <= symbols(1.0, 1.1)
    # what was worked out twice the same way is one step
    assert symbols(1.0, 1.0).isdisjoint({"Z_cold", "Z_hot", "k_0_2"})


def test_states_are_told_apart_by_their_labels_and_share_what_they_have_in_common() -> None:
    speed = traced(kinematics.surface_speed)
    shared = [given(0.05, "d", "m"), given(0.05, "d", "m")]
    states = [
        labelled(name, lambda d=d, n=n: speed(d, n), SimpleNamespace(d=d, n=n))
        for name, d, n in zip(("p1", "p2"), shared, (given(2.0, "n", "1/s"), given(3.0, "n", "1/s")), strict=True)
    ]
    working = Working(*states)
    assert [working.symbol(step) for step in working.steps] == ["d", "n_p1", "v_p1", "n_p2", "v_p2"]


def test_machine_code_of_a_folder_that_cannot_be_written_is_copied(tmp_path: Path) -> None:
    """As in an image whose root is read-only; a file in its place stands for what cannot be written, for root as well."""
    code = (
        "import os, pathlib, tempfile, sys; from glandwise.numerics import sources; base = pathlib.Path(sys.argv[1]);"
        "kept = base / 'cache' / sources.digest()[:16]; kept.mkdir(parents=True); (kept / 'code.nbc').write_text('x');"
        "os.environ['GLANDWISE_CACHE'] = str(base / 'cache'); real = tempfile.TemporaryFile;"
        "tempfile.TemporaryFile = lambda *a, **k: (_ for _ in ()).throw(PermissionError(13, 'read-only'));"
        "import glandwise.numerics.compiled; folder = pathlib.Path(os.environ['NUMBA_CACHE_DIR']);"
        "print(folder); print((folder / 'code.nbc').read_text())"
    )
    environment = {**os.environ, "TMPDIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True, env=environment
    )
    folder, held = done.stdout.split()
    assert held == "x"
    assert Path(folder).parent.parent == tmp_path
    assert Path(folder).parent.stat().st_mode & 0o777 == 0o700
