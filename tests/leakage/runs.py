"""Runs of readings that several tests of the fits share."""

import numpy as np

PRESSURE = np.array([59.8, 50.3, 40.1, 30.2, 20.4, 12.1])
"""An invented run. [Pa]"""
FLOW = np.array([0.7280, 0.6480, 0.5510, 0.4640, 0.3570, 0.2580])
"""[m³/s]"""
U_PRESSURE = np.sqrt((0.01 * PRESSURE) ** 2 / 3 + 0.15**2 / 3 + 0.3**2) / PRESSURE
"""Gauge 1 % and 0.15 Pa, both rectangular, and 0.3 Pa of flutter; relative. [-]"""
U_FLOW = 0.02

# NIST StRD, dataset Norris, 36 pairs (x, y): the file scipy ships with its tests, read.
# fmt: off
NORRIS = np.array([
    (0.2, 0.1), (337.4, 338.8), (118.2, 118.1), (884.6, 888.0), (10.1, 9.2), (226.5, 228.1),
    (666.3, 668.5), (996.3, 998.5), (448.6, 449.1), (777.0, 778.9), (558.2, 559.2), (0.4, 0.3),
    (0.6, 0.1), (775.5, 778.1), (666.9, 668.8), (338.0, 339.3), (447.5, 448.9), (11.6, 10.8),
    (556.0, 557.7), (228.1, 228.3), (995.8, 998.0), (887.6, 888.8), (120.2, 119.6), (0.3, 0.3),
    (0.3, 0.6), (556.8, 557.6), (339.1, 339.3), (887.2, 888.0), (999.0, 998.5), (779.0, 778.9),
    (11.1, 10.2), (118.3, 117.6), (229.2, 228.9), (669.1, 668.4), (448.9, 449.2), (0.5, 0.2),
])
# fmt: on
"""Calibration of ozone monitors."""

# Pearson 1901, with the weights of York 1966; the usual test of line fits, from memory.
PEARSON_X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
PEARSON_U_X = 1 / np.sqrt([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
PEARSON_U_Y = 1 / np.sqrt([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])
