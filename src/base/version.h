// SPDX-License-Identifier: GPL-3.0-or-later
// The program's version.
#ifndef CROSSWARD_BASE_VERSION_H
#define CROSSWARD_BASE_VERSION_H

#define VERSION_TEXT "0.1.0"

#endif
