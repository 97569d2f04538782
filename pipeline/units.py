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
