# SPDX-License-Identifier: GPL-3.0-or-later
# The look that all charts share: no frame, light rules, grey ticks, no legend.
set encoding utf8
set minussign
set border 0
set tics scale 0 nomirror textcolor rgb grey
set xtics offset 0,-0.1
unset key
set errorbars 0
set style fill solid 1.0 noborder
set samples 2
