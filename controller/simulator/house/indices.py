"""Places in the model's arrays, so that the compiled code can name them."""

from __future__ import annotations

SEGMENTS = 8  # stretches of soil and air along every tube

# House state.
(
    BENCH_C,
    BENCH_W,
    CEILING_C,
    CEILING_W,
    MASS_C,
    VENT,
    OUT_C,
    FLOOR_C,
    COVER_C,
    BED_C,
    BED_FELT_C,
    SHADE,
    SCREEN,
    HEATER,
) = range(14)
HOUSE_STATE = 14

# Weather now, and columns of the hourly table.
(
    W_AIR_C,
    W_HUMIDITY,
    W_PRESSURE_PA,
    W_WIND_M_S,
    W_SKY_W_M2,
    W_SHADE_SEASON,
    W_SUN_W_M2,
    W_RAIN_M_S,
    W_LIGHT_W_M2,
) = range(9)
WEATHER = 9

# House parameters.
(
    P_FLOOR_M2,
    P_COVER_M2,
    P_AIR_KG,
    P_RIDGE_M,
    P_LEAK_M2,
    P_VENT_OPEN_C,
    P_COVER_M2K_W,
    P_COVER_DARK,
    P_SHADE_SHARE,
    P_SHADE_LIGHT_W_M2,
    P_SHADE_AIR_C,
    P_SCREEN_M2K_W,
    P_SCREEN_LIGHT_W_M2,
    P_HEATER_W,
    P_HEATER_BELOW_C,
    P_HEATER_BAND_K,
) = range(16)
HOUSE_PARAMETERS = 16

# Loop parameters.
(
    L_MASS_FLOW_KG_S,
    L_POWER_W,
    L_HALF_METRES,
    L_TUBE_SHARE,
    L_FILM_KG,
    L_VOLUME_M3,
    L_SUMP,
    L_HALF_SPACING_M,
    L_SHUT_OFF,
    L_TUBE_FLOW_M3_S,
    L_SEGMENT_M,
    L_DIAMETER_M,
    L_CORRUGATED,
    L_PRESSURE_PA,
) = range(14)
LOOP_PARAMETERS = 14

# Loop state. Silt and the free intake are given from outside.
(
    F_OUTLET_C,
    F_OUTLET_W,
    F_FLOW_SHARE,
    F_FLOODED,
    F_HEAT_W,
    F_LATENT_W,
    F_POWER_W,
    F_SILTED,
    F_INTAKE_SHARE,
    F_OPEN_SHARE,
    F_UNITS,
) = range(11)
LOOP_STATE = 11

# Sump parameters and state.
S_CATCHMENT_M2, S_INFILTRATION_M_S, S_DRAIN_S, S_RISE_M3, S_FLOOD_M3, S_PUMP_M3_S, S_MOST_M3 = range(7)
SUMP_PARAMETERS = 7
# What runs back after a pump's run is given from outside: none with a sound check valve.
(
    B_SOIL_WATER_M,
    B_VOLUME_M3,
    B_FLOAT_WET,
    B_TUBE_WATER_M3,
    B_INFLOW_M3_S,
    B_POND_M,
    B_BACK_M3,
    B_PIPE_M3,
) = range(8)
SUMP_STATE = 8

# Books: sums since the start.
(
    J_SUN,
    J_FANS,
    J_COVER,
    J_AIR_EXCHANGE,
    J_DEEP,
    J_EDGE,
    J_CHARGED,
    J_DISCHARGED,
    J_LATENT_IN,
    J_LATENT_OUT,
    KG_TRANSPIRED,
    KG_VENTED,
    KG_COVER,
    KG_FOG,
    KG_TUBE_CONDENSED,
    KG_TUBE_EVAPORATED,
    KG_TUBE_DRAINED,
    M3_RAIN,
    M3_RUN_OFF,
    M3_DRIED,
    M3_PUMPED,
    J_CROP_LATENT,
    J_FOG_LATENT,
    J_COVER_LATENT,
    J_HEATER,
    S_HEATER,
    S_SCREEN,
    S_SHADE,
) = range(28)
BOOKS = 28
