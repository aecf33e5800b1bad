# SPDX-License-Identifier: GPL-3.0-or-later
# crossward: build, demo, tests. `make help` lists the targets from the comments beside them.

# What apt installs: to build and run; for `make test`; for lint and the slow suites, as .ci/run calls them.
PACKAGES := gcc libc6-dev pkg-config libglib2.0-dev libgsl-dev libcsv-dev libsqlite3-dev libjansson-dev \
        libseccomp-dev libssl-dev libxlsxwriter-dev libminizip-dev gnuplot-nox librsvg2-bin fonts-inter tzdata
TEST_PACKAGES := check sqlite3 postgresql python3-jsonschema python3-openpyxl time r-base-core r-cran-survival r-cran-mass r-cran-matrix
SLOW_PACKAGES := strace clang clang-format clang-tidy libclang-rt-14-dev universal-ctags mandoc chromium poppler-utils \
        nodejs

# The demo: what `crossward audit` is called with, and where the pack goes.
DEMO_PACK := demo-pack
DEMO := audit sample-data/logs --network sample-data/network --out $(DEMO_PACK) --force
RUN_DEMO = $(BUILD)/crossward $(DEMO) || [ $$? = 1 ] # 1: done, and something in the logs is doubtful

SHELL := /bin/bash
ifeq ($(MAKELEVEL),0)
MAKEFLAGS += -j$(shell nproc)
endif
CC ?= cc
PREFIX ?= /usr/local
BUILD ?= build
CFLAGS ?= -O2 -g
WARN := -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes \
        -Wvla -Wwrite-strings -Wundef -Wformat=2
PKGS := glib-2.0 gio-2.0 gsl sqlite3 jansson libseccomp libcrypto minizip
PKG_CFLAGS := $(shell pkg-config --cflags $(PKGS) 2>/dev/null | sed 's/-I/-isystem /g')
PKG_LIBS := $(shell pkg-config --libs $(PKGS) 2>/dev/null)
CHECK_LIBS := $(shell pkg-config --libs check 2>/dev/null)
ALL_CPPFLAGS = -D_GNU_SOURCE -Isrc -I$(BUILD)/gen $(PKG_CFLAGS) $(CPPFLAGS)
ALL_CFLAGS = -std=c17 $(WARN) -pthread -ffile-prefix-map=$(CURDIR)=. $(CFLAGS)
ALL_LIBS = $(PKG_LIBS) -lcsv -lxlsxwriter -lm -pthread $(LDLIBS)
COMPILE = $(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS)

SRC := $(sort $(shell find src -name '*.c'))
STATS_OBJ := $(patsubst %.c,$(BUILD)/%.o,$(filter src/stats/%,$(SRC)))
OBJ := $(patsubst %.c,$(BUILD)/%.o,$(filter-out src/main.c src/stats/%,$(SRC))) $(BUILD)/gen/embed_data.o
LIBS := $(BUILD)/libcrossward.a $(BUILD)/libcrossward-stats.a
SQL := $(patsubst %,$(BUILD)/gen/%,$(sort $(wildcard sql/*.sql)))
EMBED := $(sort $(wildcard src/measure/*.csv plots/*.gp src/pack/*.css) $(SQL))
UNIT := $(patsubst tests/unit/%.c,$(BUILD)/tests/%,$(sort $(wildcard tests/unit/test_*.c)))
FAST := $(BUILD)/tests/published tests/command/run tests/oracle/run tests/sql/run tests/export/run tests/pack/run tests/disclosure/run \
    '$(MAKE) -s stats-oracle'
SLOW := $(filter-out $(FAST) tests/bench/run,$(sort $(wildcard tests/*/run))) 'ROUNDS=12 tests/disclosure/run'

.PHONY: all build man demo unit test slow lint headers tidy asan bench bench-large format install uninstall \
        packages test-packages slow-packages clean help
all: build

##@ Use

demo: packages ## install what is missing, build, audit the sample data, say where the report is
	@$(MAKE) --no-print-directory build
	$(RUN_DEMO)
	@echo "The report: $(CURDIR)/$(DEMO_PACK)/report.html"

build: $(BUILD)/crossward ## build the program (build/crossward)

install: build man ## install program and manual under PREFIX (/usr/local), staged below DESTDIR
	install -D -m 755 $(BUILD)/crossward $(DESTDIR)$(PREFIX)/bin/crossward
	install -D -m 644 -t $(DESTDIR)$(PREFIX)/share/man/man1 $(BUILD)/man/*.1

uninstall: ## remove what install put there
	rm -f $(DESTDIR)$(PREFIX)/bin/crossward $(DESTDIR)$(PREFIX)/share/man/man1/crossward{,-*}.1

man: $(BUILD)/man/crossward.1 ## manual pages, from what each command says of itself

##@ Test

test: test-packages ## install what the tests need, run them all but the slow ones
	@$(MAKE) --no-print-directory run-tests

unit: build $(UNIT) ## run the unit tests alone
	@tests/run $(UNIT)

slow: slow-packages ## the slow suites: injected faults, fuzzing, races of threads, a planted effect found again, the pages in Chromium
	@$(MAKE) --no-print-directory build
	@tests/run $(SLOW)

asan: ## program, unit tests, golden runs and demo under the address and undefined-behaviour sanitizers
	@$(MAKE) --no-print-directory BUILD=build-asan DEMO_PACK=build-asan/pack \
	    CFLAGS='-O1 -g -fno-omit-frame-pointer -fsanitize=address,undefined -fno-sanitize-recover=all' run-asan

bench: test-packages ## audit against bare libcsv on 200,000 rows, a pack against gnuplot and libxlsxwriter alone, statistics and replay beside R
	@$(MAKE) --no-print-directory run-bench ROWS=200000

bench-large: test-packages ## the same on 2,000,000 rows
	@$(MAKE) --no-print-directory run-bench ROWS=2000000

.PHONY: run-tests run-asan run-bench programs
programs: build $(UNIT) $(BUILD)/tests/published $(BUILD)/bench/bare_csv $(BUILD)/bench/bare_xlsx $(BUILD)/bench/stats $(BUILD)/bench/heap
run-bench: build $(BUILD)/bench/bare_csv $(BUILD)/bench/bare_xlsx $(BUILD)/bench/stats $(BUILD)/bench/heap
	@BUILD=$(BUILD) tests/bench/run $(ROWS)
	@BUILD=$(BUILD) tests/bench/pack
	@BUILD=$(BUILD) tests/bench/replay

run-tests: build $(UNIT) $(BUILD)/tests/published $(BUILD)/tests/stats-oracle
	@tests/run $(UNIT) $(FAST)

run-asan: build $(UNIT)
	@CK_FORK=no ASAN_OPTIONS=exitcode=99 UBSAN_OPTIONS=exitcode=99 BUILD=$(BUILD) \
	    tests/run $(UNIT) tests/command/run '$(RUN_DEMO)'

# The program with one of its sources replaced by the file WITH: for tests that plant an error.
.PHONY: variant
variant:
	$(COMPILE) $(LDFLAGS) -o $(PROGRAM) $(WITH) $(BUILD)/src/main.o $(LIBS) $(ALL_LIBS)

# ---- checks of the statistics: published values, coverage, comparison with R ----

PUBLISHED_SRC := $(sort $(wildcard tests/published/*.c))

$(BUILD)/tests/published: $(PUBLISHED_SRC) $(wildcard tests/published/*.h) $(LIBS)
	@mkdir -p $(@D)
	@echo 'CC tests/published'
	$(Q)$(COMPILE) -Itests/published -DPUBLISHED_DIR='"tests/published"' $(LDFLAGS) -o $@ \
	    $(PUBLISHED_SRC) $(LIBS) $(ALL_LIBS)

published: $(BUILD)/tests/published ## hold the statistics against published values
	$(BUILD)/tests/published $(CHECKS)

STATS_ORACLE_SRC := $(sort $(wildcard tests/oracle/stats*.c))

$(BUILD)/tests/stats-oracle: $(STATS_ORACLE_SRC) tests/oracle/stats.h $(BUILD)/libcrossward-stats.a
	@mkdir -p $(@D)
	@echo 'CC tests/oracle/stats'
	$(Q)$(COMPILE) -Itests/oracle $(LDFLAGS) -o $@ $(STATS_ORACLE_SRC) $(BUILD)/libcrossward-stats.a $(ALL_LIBS)

stats-oracle: $(BUILD)/tests/stats-oracle ## hold the statistics against R on thousands of random inputs
	@Rscript tests/oracle/stats.R >$(BUILD)/stats-oracle.txt
	$(BUILD)/tests/stats-oracle <$(BUILD)/stats-oracle.txt

.PHONY: published stats-oracle
# ---- end of the checks of the statistics ----

# ---- simulations: how often signals are false, how often planted ones are found ----

SIMULATIONS := $(patsubst tests/simulation/%.c,$(BUILD)/simulation/%,$(sort $(wildcard tests/simulation/*.c)))

simulate: $(SIMULATIONS) ## the simulations behind the choice of methods, with their figures (about three minutes)
	@for s in $(SIMULATIONS); do $$s || exit 1; done

$(BUILD)/simulation/%: tests/simulation/%.c $(BUILD)/libcrossward-stats.a
	@mkdir -p $(@D)
	@echo 'CC $<'
	$(Q)$(COMPILE) $(LDFLAGS) -o $@ $< $(BUILD)/libcrossward-stats.a $(ALL_LIBS)

.PHONY: simulate
# ---- end of the simulations ----

##@ Develop

lint: slow-packages ## every static check: format, warnings, layers, headers, lengths, clang-tidy
	@tests/run '$(MAKE) lint-format' tests/lint/layers tests/lint/style '$(MAKE) headers' \
	    '$(MAKE) BUILD=build-gcc CC=gcc CFLAGS="-O2 -Werror" programs' \
	    '$(MAKE) BUILD=build-clang CC=clang CFLAGS="-O1 -Werror" programs' '$(MAKE) lint-manual' '$(MAKE) -k tidy'

format: ## let clang-format lay out every C file
	clang-format -i $(C_FILES)

C_FILES = $(shell find src tests -name '*.[ch]' | sort)
.PHONY: lint-format lint-manual
lint-format:
	clang-format --dry-run --Werror $(C_FILES)

# The pages bear no date: the same tree gives the same bytes on any day.
lint-manual: man
	@! mandoc -T lint -W warning $(BUILD)/man/*.1 | grep -v 'missing date'

# Each header compiles alone; each source passes clang-tidy. Stamps keep both incremental.
headers: $(patsubst %.h,$(BUILD)/headers/%.ok,$(shell find src -name '*.h'))
tidy: $(patsubst %.c,$(BUILD)/tidy/%.ok,$(SRC))

$(BUILD)/headers/%.ok: %.h
	@mkdir -p $(@D)
	$(Q)printf '#include "$(<:src/%=%)"\ntypedef int alone;\n' | $(COMPILE) -Werror -MMD -MP -MT $@ -MF $(@:.ok=.d) -fsyntax-only -x c -
	@touch $@

$(BUILD)/tidy/%.ok: %.c $(BUILD)/%.o .clang-tidy
	@mkdir -p $(@D)
	@echo 'TIDY $<'
	$(Q)clang-tidy --quiet --warnings-as-errors='*' $< -- $(ALL_CPPFLAGS) -std=c17 2>&1 | \
	    sed '/warnings\{0,1\} \(generated\|treated\)/d'; exit $${PIPESTATUS[0]}
	@touch $@

packages: ## install what building and running need
	@.ci/install $(PACKAGES)

test-packages:
	@.ci/install $(PACKAGES) $(TEST_PACKAGES)

slow-packages:
	@.ci/install $(PACKAGES) $(TEST_PACKAGES) $(SLOW_PACKAGES)

clean: ## remove what was built
	rm -rf build build-* $(DEMO_PACK)

help: ## list the targets
	@awk -F ':.*## ' '/^##@ /{print "\n" substr($$0, 5)} /^[a-z-]+:.*## /{printf "  %-12s %s\n", $$1, $$2}' Makefile

# ---- rules; V=1 shows the commands whole ----

Q := $(if $(V),,@)

$(BUILD)/crossward: $(BUILD)/src/main.o $(LIBS)
	@echo 'LD $@'
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(ALL_LIBS)

$(BUILD)/libcrossward.a: $(OBJ) $(BUILD)/sources
	$(Q)rm -f $@ && $(AR) rcs $@ $(OBJ)

# The mathematics alone, for other programs: needs GSL and nothing of this project.
$(BUILD)/libcrossward-stats.a: $(STATS_OBJ) $(BUILD)/sources
	$(Q)rm -f $@ && $(AR) rcs $@ $(STATS_OBJ)

# These files change when the flags do, or the list of sources, and what depends on them is built again.
$(BUILD)/flags: export NOW = $(COMPILE) $(LDFLAGS) $(ALL_LIBS)
$(BUILD)/sources: export NOW = $(SRC)
$(BUILD)/flags $(BUILD)/sources: FORCE
	@mkdir -p $(@D) && echo "$$NOW" | cmp -s - $@ || echo "$$NOW" >$@
.PHONY: FORCE

$(BUILD)/%.o: %.c $(BUILD)/flags
	@mkdir -p $(@D)
	@echo 'CC $<'
	$(Q)$(COMPILE) -MMD -MP -c -o $@ $<

# The marks in these are filled from the field table.
$(BUILD)/gen/sql/%.sql: sql/%.sql sql/fields.awk $(BUILD)/gen/fields.txt
	@mkdir -p $(@D)
	$(Q)LC_ALL=C awk -f sql/fields.awk $(BUILD)/gen/fields.txt $< >$@.tmp && mv $@.tmp $@

$(BUILD)/gen/fields.txt: sql/fields.h src/record/fields.def
	@mkdir -p $(@D)
	$(Q)$(CC) -E -P -Isrc -x c $< >$@.tmp && mv $@.tmp $@

$(BUILD)/gen/embed_data.c: src/base/embed.awk $(EMBED)
	@mkdir -p $(@D)
	$(Q)LC_ALL=C awk -f src/base/embed.awk $(EMBED) >$@.tmp && mv $@.tmp $@

$(BUILD)/gen/embed_data.o: $(BUILD)/gen/embed_data.c $(BUILD)/flags
	$(Q)$(COMPILE) -Wno-overlength-strings -c -o $@ $<

$(BUILD)/tests/%: tests/unit/%.c $(LIBS) $(BUILD)/flags
	@mkdir -p $(@D)
	@echo 'CC $<'
	$(Q)$(COMPILE) -MMD -MP $(LDFLAGS) -o $@ $< $(LIBS) $(CHECK_LIBS) $(ALL_LIBS)

$(BUILD)/bench/%: tests/bench/%.c $(BUILD)/libcrossward-stats.a
	@mkdir -p $(@D)
	@echo 'CC $<'
	$(Q)$(COMPILE) $(LDFLAGS) -o $@ $< $(BUILD)/libcrossward-stats.a $(ALL_LIBS)

# A page for the program and one for each command that its help lists.
$(BUILD)/man/crossward.1: $(BUILD)/crossward src/command/man.sh
	src/command/man.sh $(BUILD)/crossward $(@D)

$(BUILD)/fuzz/%: tests/fuzz/%.c $(LIBS)
	@mkdir -p $(@D)
	@echo 'CC $<'
	$(Q)$(COMPILE) $(LDFLAGS) -fsanitize=fuzzer -o $@ $< $(LIBS) $(ALL_LIBS)

-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)
