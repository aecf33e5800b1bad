# SPDX-License-Identifier: GPL-3.0-or-later
# A measure over periods about its median. Columns: x, value, and the value once more in the column of its mark: whole, not whole
# (NaN: not so). median: the middle line.
plot median with lines dt dashed lw 1.6 lc rgb ink, \
    data using 1:2 with lines lw 2.4 lc rgb blue, \
    data using 1:2 with points pt 7 ps 1.1 lc rgb paper, \
    data using 1:3 with points pt 7 ps 0.8 lc rgb blue, \
    data using 1:4 with points pt 6 ps 0.9 lw 1.6 lc rgb grey
