# SPDX-License-Identifier: GPL-3.0-or-later
# Colours and dashes by name, which `reset` leaves alone.
# Only ink, blue, vermillion, green and purple as lines or marks (3:1 on white); the others as fills with a label.
ink = "#1C1F23"; grey = "#5F6670"; rule = "#E3E6EA"; paper = "#FFFFFF"
blue = "#0072B2"; vermillion = "#D55E00"; green = "#00795A"; purple = "#9A4F86"
sky = "#56B4E9"; orange = "#E69F00"; band = "#D6E4F1"; pale = "#EDF2F7"
set dashtype 11 (4,3)
dashed = 11
