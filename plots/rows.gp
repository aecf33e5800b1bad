# SPDX-License-Identifier: GPL-3.0-or-later
# A row each, an interval and its estimate. Columns: estimate, lower, upper, row, mark (1 = look here).
plot data using 2:($5 == 1 ? NaN : $4):($3 - $2):(0) with vectors nohead lw 2.2 lc rgb blue, \
    data using 2:($5 == 1 ? $4 : NaN):($3 - $2):(0) with vectors nohead lw 2.2 lc rgb vermillion, \
    data using 1:4 with points pt 7 ps 1.2 lc rgb paper, \
    data using 1:($5 == 1 ? NaN : $4) with points pt 7 ps 0.9 lc rgb blue, \
    data using 1:($5 == 1 ? $4 : NaN) with points pt 13 ps 1.3 lc rgb vermillion
