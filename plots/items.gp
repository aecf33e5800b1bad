# SPDX-License-Identifier: GPL-3.0-or-later
# Items in rows, each with an interval, and beneath it a strip of further values.
# Block 0: estimate, lower, upper, row, mark (1 = a diamond).
# Block 1: value, row, mark (0 = a ring, 1 = a diamond, 2 = a stroke).
plot data index 0 using 2:($5 == 1 ? NaN : $4):($3 - $2):(0) with vectors nohead lw 2.4 lc rgb blue, \
    data index 0 using 2:($5 == 1 ? $4 : NaN):($3 - $2):(0) with vectors nohead lw 2.4 lc rgb vermillion, \
    data index 0 using 1:($5 == 1 ? NaN : $4) with points pt 7 ps 1.1 lc rgb paper, \
    data index 0 using 1:($5 == 1 ? NaN : $4) with points pt 7 ps 0.8 lc rgb blue, \
    data index 0 using 1:($5 == 1 ? $4 : NaN) with points pt 13 ps 1.25 lc rgb vermillion, \
    data index 1 using 1:($3 == 0 ? $2 : NaN) with points pt 6 ps 0.6 lw 1.2 lc rgb grey, \
    data index 1 using 1:($3 == 1 ? $2 : NaN) with points pt 13 ps 0.85 lc rgb vermillion, \
    data index 1 using 1:($3 == 2 ? $2 - 0.2 : NaN):(0):(0.4) with vectors nohead lw 2.2 lc rgb ink
