// SPDX-License-Identifier: GPL-3.0-or-later
// A release: a pack for those outside the network, in which small counts are hidden.
#ifndef CROSSWARD_PACK_RELEASE_H
#define CROSSWARD_PACK_RELEASE_H

#include "disclosure/hiding.h"
#include "pack/folder.h"
#include "pack/source.h"

// Writes report.html, report.md, summary.csv, .json and .xlsx, datapackage.json and manifest.json:
// what is drawn from the estimates alone. source: its estimates are those of hiding_masked, with
// lookup, network, account, inputs, files and settings, and findings, of which it says which logs
// were refused; the rest is not there. False with an error if a file could not be written.
bool release_write(Folder *folder, const Source *source, const Hiding *hiding, GError **error);

#endif
