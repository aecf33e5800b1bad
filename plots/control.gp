# SPDX-License-Identifier: GPL-3.0-or-later
# A measure over periods between control limits. Columns: x, value, lower and upper limit, and the value once more in the column
# of its mark: within the limits, not whole, outside (NaN: not so). centre: the centre line.
plot data using 1:3:4 with filledcurves lc rgb pale, \
    data using 1:3 with lines lw 1.2 lc rgb grey, \
    data using 1:4 with lines lw 1.2 lc rgb grey, \
    centre with lines dt dashed lw 1.6 lc rgb ink, \
    data using 1:2 with lines lw 2.4 lc rgb blue, \
    data using 1:2 with points pt 7 ps 1.1 lc rgb paper, \
    data using 1:5 with points pt 7 ps 0.8 lc rgb blue, \
    data using 1:6 with points pt 6 ps 0.9 lw 1.6 lc rgb grey, \
    data using 1:7 with points pt 13 ps 1.35 lc rgb vermillion
