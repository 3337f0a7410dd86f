"""The compiled twins give what the plain functions give."""

from __future__ import annotations

import inspect
import math
import subprocess
import sys
from types import FunctionType, ModuleType

import pytest

from controller.physics import cover, fan_curve, ground_temperature, moist_air, sky, soil, tube

MODULES = (moist_air, tube, fan_curve, soil, ground_temperature, cover, sky)

# A plausible value for every argument name used in the package.
ARGUMENTS = {
    "air_c": 24.0, "altitude_m": 400.0, "amplitude_k": 9.0,
    "clear_emissivity": 0.75, "cloud_share": 0.4,
    "coldest_day": 20.0,
    "corrugated": True, "cos_incidence": 0.7, "day_of_year": 100.0, "depth_m": 0.8,
    "dew_point_c": 9.0, "diameter_m": 0.08, "difference_k": 12.0, "diffusivity_m2_s": 5e-7, "emissivity": 0.8,
    "flow_m3_s": 0.3, "flow": 0.8, "friction_factor": 0.03,
    "hours_from_midnight": 5.0, "humidity": 0.7, "intake_share": 0.6, "laminar": 3.66, "layers": 2,
    "ratio": 0.009,
    "leakage_area_m2": 0.1, "length_m": 9.0, "mean_c": 10.0, "normal_transmittance": 0.77, "open_share": 0.7,
    "period_s": 3.15e7, "porosity": 0.49, "pr": 0.71, "pressure_pa": 97_000.0,
    "nominal_efficiency": 0.2, "power_w": 120.0, "re": 12_000.0, "relative_roughness": 0.03,
    "rough_friction": 0.06, "sand_percent": 6.0, "saturation": 0.8,
    "smooth_friction": 0.03, "temp_c": 21.0, "time_s": 4e6, "units": 1.3, "tube_flow_m3_s": 0.0125,
    "tubes_part": 0.4, "tubes_pa": 30.0, "shut_off": 3.7, "tubes": 24,
    "turbulent": 40.0, "vapour_pa": 1400.0, "speed_m_s": 2.5,
    "warmer_k": 6.0, "wilting_saturation": 0.5, "wind_m_s": 3.0,
}  # fmt: skip


def own_functions(module: ModuleType) -> dict[str, FunctionType]:
    """The functions a module defines itself."""
    return {
        name: value
        for name, value in vars(module).items()
        if isinstance(value, FunctionType) and value.__module__ == module.__name__
    }


@pytest.fixture(scope="module")
def twins() -> dict[str, ModuleType]:
    """All physics modules, compiled together."""
    pytest.importorskip("numba")
    from controller.simulator.compiled import compile_modules  # noqa: PLC0415

    return compile_modules(MODULES)


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__.rpartition(".")[2])
def test_every_function_compiles_and_agrees(module: ModuleType, twins: dict[str, ModuleType]) -> None:
    """Plain and compiled results are equal to the last few bits, for every public function."""
    twin = twins[module.__name__.rpartition(".")[2]]
    for name, function in own_functions(module).items():
        arguments = [ARGUMENTS[parameter] for parameter in inspect.signature(function).parameters]
        assert getattr(twin, name)(*arguments) == pytest.approx(function(*arguments), rel=1e-13), name


def test_twins_call_twins_and_leave_the_originals_alone(twins: dict[str, ModuleType]) -> None:
    """A function imported from a neighbour is the neighbour's twin; the plain module stays plain."""
    assert twins["tube"].viscosity_pa_s is twins["moist_air"].viscosity_pa_s
    assert isinstance(vars(tube)["viscosity_pa_s"], FunctionType)
    assert not isinstance(twins["tube"].friction, FunctionType)


def test_two_modules_of_one_name_are_refused() -> None:
    """They could not be distinguished in the result, so the error names them."""
    pytest.importorskip("numba")
    from controller.simulator.compiled import compile_modules  # noqa: PLC0415

    with pytest.raises(ValueError, match="soil, soil"):
        compile_modules((soil, ModuleType("elsewhere.soil")))


def test_ratios_and_shares_stay_in_their_ranges() -> None:
    """With plausible arguments every share and effectiveness lies between 0 and 1."""
    state = (9.0, 0.08, True, 25.0, 101_325.0)
    for flow_m3_s in (1e-4, 0.01, 0.1, 0.3, 1.0):
        assert 0.0 < tube.loop_effectiveness(flow_m3_s, 24, *state) <= 1.0
        assert math.isfinite(tube.loop_pressure_drop_pa(flow_m3_s, 24, *state))


def test_the_device_imports_no_numerics() -> None:
    """Importing every physics module loads neither numba nor numpy nor the simulator."""
    names = ", ".join(module.__name__ for module in MODULES)
    code = (
        f"import sys, {names}; "
        "print(sorted(n for n in ('numba', 'numpy', 'scipy', 'controller.simulator') if n in sys.modules))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
