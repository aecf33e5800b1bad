# SPDX-License-Identifier: GPL-3.0-or-later
# A measure against the number of teams, a block for each roster (two at most have a band and colour of their own).
# Columns: teams, estimate, lower, upper.
plot for [i=1:rosters-1] data index i using 1:3:4 with filledcurves lc rgb pale, \
    data index 0 using 1:3:4 with filledcurves lc rgb band, \
    for [i=1:rosters-1] data index i using 1:2 with linespoints lw 2.2 dt (6,4) pt 7 ps 0.7 lc rgb purple, \
    data index 0 using 1:2 with linespoints lw 2.6 pt 7 ps 0.8 lc rgb blue
