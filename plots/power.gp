# SPDX-License-Identifier: GPL-3.0-or-later
# Power against size. Columns: x, power, and the power once more at the size that is needed (NaN elsewhere).
plot data using 1:2 with lines lw 2.6 lc rgb blue, \
    data using 1:3 with points pt 7 ps 1.6 lc rgb paper, \
    data using 1:3 with points pt 13 ps 1.25 lc rgb vermillion
