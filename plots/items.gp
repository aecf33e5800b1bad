# SPDX-License-Identifier: GPL-3.0-or-later
# Items in rows, each with an interval, and beneath it a strip of further values.
# Block 0: estimate, lower, upper, and the row in the column of its mark: a dot, a diamond (NaN: not so).
# Block 1: value, and the row in the column of its mark: a ring, a diamond, a stroke.
plot data index 0 using 1:4:2:3 with xerrorbars pt -1 lw 2.4 lc rgb blue, \
    data index 0 using 1:5:2:3 with xerrorbars pt -1 lw 2.4 lc rgb vermillion, \
    data index 0 using 1:4 with points pt 7 ps 1.1 lc rgb paper, \
    data index 0 using 1:4 with points pt 7 ps 0.8 lc rgb blue, \
    data index 0 using 1:5 with points pt 13 ps 1.25 lc rgb vermillion, \
    data index 1 using 1:2 with points pt 6 ps 0.6 lw 1.2 lc rgb grey, \
    data index 1 using 1:3 with points pt 13 ps 0.85 lc rgb vermillion, \
    data index 1 using 1:($4 - 0.2):(0):(0.4) with vectors nohead lw 2.2 lc rgb ink
