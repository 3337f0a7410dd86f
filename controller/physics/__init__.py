"""Physics shared by decision, heat accounting and rehearsal: one set of formulas.

Every function takes and returns plain floats in SI units (°C for temperatures), keeps no state, checks no
range (each docstring names its own) and uses only ``math`` and its neighbours, so that it runs on the device
as ordinary Python.

The rehearsal steps through years, so it runs compiled twins of the very same code. Nothing is decorated or
copied for that::

    from controller.simulator.compiled import compile_modules
    from controller.physics import moist_air, tube
    from controller.simulator.house import ground  # the model's own functions, plain Python too

    fast = compile_modules((moist_air, tube, ground))
    fast["tube"].loop_effectiveness(0.3, 24, 9.0, 0.08, True, 25.0, 101_325.0)

A twin is a module of the same name in which every function is compiled. Functions call each other's twins,
also across the modules that were compiled together, whether they say ``tube.friction(...)`` or import the
name. Tables such as ``soil.TEXTURES`` are for ordinary Python: look a texture up there and hand the numbers
in.
"""
