# SPDX-License-Identifier: GPL-3.0-or-later
# crossward: build, demo, tests. `make help` lists the targets from the comments beside them.

CC ?= cc
PKGS := glib-2.0 gio-2.0 gsl sqlite3 jansson libseccomp libcrypto
WARN := -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes \
        -Wvla -Wwrite-strings -Wundef -Wformat=2
CFLAGS ?= -O2 -g
BUILD ?= build
CPPFLAGS += -D_GNU_SOURCE -Isrc -I$(BUILD)/gen $(shell pkg-config --cflags $(PKGS) | sed 's/-I/-isystem /g')
ALL_CFLAGS = -std=c17 $(WARN) -pthread $(CFLAGS)
LDLIBS += $(shell pkg-config --libs $(PKGS)) -lcsv -lxlsxwriter -lm -pthread

SRC := $(sort $(shell find src -name '*.c'))
LIBSRC := $(filter-out src/main.c,$(SRC))
OBJ := $(LIBSRC:%.c=$(BUILD)/%.o) $(BUILD)/gen/embed_data.o
EMBED := $(sort $(wildcard src/measure/*.csv sql/*.sql plots/*.gp src/pack/*.css))
UNIT := $(patsubst tests/unit/%.c,$(BUILD)/tests/%,$(sort $(wildcard tests/unit/test_*.c)))

.PHONY: all build unit clean help
all: build

build: $(BUILD)/crossward ## build the program

$(BUILD)/crossward: $(BUILD)/src/main.o $(BUILD)/libcrossward.a
	$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LDLIBS)

$(BUILD)/libcrossward.a: $(OBJ)
	rm -f $@ && ar rcs $@ $^

$(BUILD)/%.o: %.c
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(ALL_CFLAGS) -MMD -MP -c -o $@ $<

$(BUILD)/gen/embed_data.c: src/base/embed.awk $(EMBED)
	@mkdir -p $(@D)
	LC_ALL=C awk -f src/base/embed.awk $(EMBED) >$@.tmp && mv $@.tmp $@

$(BUILD)/gen/embed_data.o: $(BUILD)/gen/embed_data.c
	$(CC) $(CPPFLAGS) $(ALL_CFLAGS) -Wno-overlength-strings -c -o $@ $<

$(BUILD)/tests/%: tests/unit/%.c $(BUILD)/libcrossward.a
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(ALL_CFLAGS) -o $@ $< $(BUILD)/libcrossward.a $(shell pkg-config --cflags --libs check) $(LDLIBS)

unit: build $(UNIT) ## run the unit tests
	@for t in $(UNIT); do $$t || exit 1; done

# ---- checks of the statistics: published values, coverage, comparison with R ----

PUBLISHED_SRC := $(sort $(wildcard tests/published/*.c))

$(BUILD)/tests/published: $(PUBLISHED_SRC) $(wildcard tests/published/*.h) $(BUILD)/libcrossward.a
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) -Itests/published -DPUBLISHED_DIR='"tests/published"' $(ALL_CFLAGS) -o $@ \
	    $(PUBLISHED_SRC) $(BUILD)/libcrossward.a $(LDLIBS)

published: $(BUILD)/tests/published ## hold the statistics against published values
	$(BUILD)/tests/published $(CHECKS)

.PHONY: published
# ---- end of the checks of the statistics ----

clean: ## remove what was built
	rm -rf $(BUILD)

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z-]+:.*## /{printf "%-14s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)
