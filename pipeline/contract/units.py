"""Named conversion constants. Multiply to convert; each line says from what to what."""

G_PER_KG = 1000.0
MM_PER_M = 1000.0
L_PER_M3 = 1000.0
MINUTES_PER_HOUR = 60.0
SECONDS_PER_MINUTE = 60.0
HOURS_PER_DAY = 24.0
J_PER_KWH = 3.6e6
KELVIN_OFFSET_C = 273.15
PA_PER_BAR = 1.0e5
DAYS_PER_YEAR = 365.25

# The pound (1959 agreement), the US gallon and the inch are exact by definition; so is the UK gallon (1985).
G_PER_LB = 453.59237
G_PER_OZ = G_PER_LB / 16.0
L_PER_GAL_US = 3.785411784
L_PER_GAL_UK = 4.54609
MM_PER_INCH = 25.4
MM_PER_FT = 304.8
PA_PER_PSI = 6894.757293168
PA_PER_KPA = 1000.0
W_PER_BTU_H = 0.29307107
F_PER_C = 1.8
F_AT_0_C = 32.0

# Tube is sold by a nominal size in inches that is the outside diameter of none of them. Outside diameter in
# millimetres by nominal size. All from memory.
COPPER_US_OUTSIDE_MM = {
    0.25: 9.525,
    0.375: 12.7,
    0.5: 15.875,
    0.625: 19.05,
    0.75: 22.225,
    1.0: 28.575,
    1.25: 34.925,
    1.5: 41.275,
    2.0: 53.975,
}
"""Copper water tube as sold in the US: outside diameter = nominal size + 1/8 inch (ASTM B88, from memory)."""

COPPER_UK_OUTSIDE_MM = {0.375: 12.0, 0.5: 15.0, 0.75: 22.0, 1.0: 28.0, 1.25: 35.0, 1.5: 42.0, 2.0: 54.0}
"""The metric tube that took the place of each old inch size in the UK (common practice, no source)."""

STEEL_OUTSIDE_MM = {0.375: 17.2, 0.5: 21.3, 0.75: 26.9, 1.0: 33.7, 1.25: 42.4, 1.5: 48.3, 2.0: 60.3}
"""Threaded steel tube by nominal size (EN 10255, from memory)."""
