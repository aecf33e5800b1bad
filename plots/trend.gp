# SPDX-License-Identifier: GPL-3.0-or-later
# A measure over periods. Columns: x, estimate, lower, upper, and the estimate once more in the column of its mark: whole, not whole
# (NaN: not so).
plot data using 1:3:4 with filledcurves lc rgb band, \
    data using 1:2 with lines lw 2.6 lc rgb blue, \
    data using 1:2 with points pt 7 ps 1.15 lc rgb paper, \
    data using 1:5 with points pt 7 ps 0.85 lc rgb blue, \
    data using 1:6 with points pt 6 ps 1.05 lw 2.4 lc rgb blue
