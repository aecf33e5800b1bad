# SPDX-License-Identifier: GPL-3.0-or-later
# A small line without axes; the last point is marked. Columns: x, estimate, and the estimate once more where it is the last, and
# where the logs do not cover it whole (NaN elsewhere).
# level: the value over all, a dashed line.
unset xtics
unset ytics
plot level with lines dt dashed lw 1.2 lc rgb grey, \
    data using 1:2 with lines lw 2 lc rgb blue, \
    data using 1:3 with points pt 7 ps 1 lc rgb blue, \
    data using 1:4 with points pt 7 ps 0.9 lc rgb paper, \
    data using 1:4 with points pt 6 ps 0.8 lw 1.6 lc rgb blue
