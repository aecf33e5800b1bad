# SPDX-License-Identifier: GPL-3.0-or-later
# Small multiples, a block of data each: x, estimate, lower, upper, and the estimate once more in the column of its mark: ordinary,
# not whole, to look at (NaN: not so). The program gives panels, columns, rows, the names name_1 ..., those of the first and last x
# and the edges of the whole; level is the network's value.
set multiplot
tall = (top_edge - low_edge) / rows; wide = (right_edge - left_edge) / columns
unset xtics
do for [k = 0:panels - 1] {
    column = k % columns; row = k / columns
    set lmargin at screen left_edge + column * wide
    set rmargin at screen left_edge + column * wide + wide * 0.92
    set tmargin at screen top_edge - row * tall - tall * 0.25
    set bmargin at screen top_edge - (row + 1) * tall + tall * 0.12
    if (k > 0) { unset label }
    if (column > 0) { set ytics offset screen -2, 0 } else { set ytics offset 0, 0 } # names at the left edge only
    set label 900 value(sprintf("name_%d", k + 1)) at graph 0, graph 1.2 left font "Inter Bold,12" tc rgb ink
    if (k + columns >= panels) { # under the lowest of each column
        set label 901 first_name at graph 0, graph -0.16 left font "Inter,11" tc rgb grey
        set label 902 last_name at graph 1, graph -0.16 right font "Inter,11" tc rgb grey
    }
    plot level with lines dt dashed lw 1.2 lc rgb ink, \
        data index k using 1:3:4 with filledcurves lc rgb band, \
        level with lines dt dashed lw 1.2 lc rgb ink, \
        data index k using 1:2 with lines lw 2 lc rgb blue, \
        data index k using 1:5 with points pt 7 ps 0.55 lc rgb blue, \
        data index k using 1:6 with points pt 7 ps 0.8 lc rgb paper, \
        data index k using 1:6 with points pt 6 ps 0.7 lw 1.4 lc rgb blue, \
        data index k using 1:7 with points pt 13 ps 0.9 lc rgb vermillion
}
unset multiplot
