# SPDX-License-Identifier: GPL-3.0-or-later
# Units by their size against limits about the network's value.
# Block 0, limits: size, lower and upper of 99.8 %, lower and upper of 95 %.
# Block 1, units: size, value, and the value once more in the column of its mark: ordinary, to look at (NaN: not so).
# centre: the network's value.
plot data index 0 using 1:2:3 with filledcurves fc rgb pale, \
    data index 0 using 1:4:5 with filledcurves fc rgb band, \
    centre with lines dt dashed lw 1.6 lc rgb ink, \
    data index 1 using 1:2 with points pt 7 ps 1.35 lc rgb paper, \
    data index 1 using 1:3 with points pt 7 ps 1.05 lc rgb blue, \
    data index 1 using 1:4 with points pt 13 ps 1.5 lc rgb vermillion
