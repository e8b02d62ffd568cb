/*
 * counterfoil-conform: which cases are tried on this port, in which order, and what is kept of each?
 */
#include "adapter_lane.h"
#include "line.h"
#include "options.h"
#include "os/os.h"
#include "report.h"
#include "suite.h"

#include "packs/description.h"

#include <fnmatch.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

static volatile sig_atomic_t stop_flag;

static void stop_note(int number)
{
    (void)number;
    stop_flag = 1;
}

bool stop_asked(void)
{
    return stop_flag != 0;
}

struct selection {
    const struct conformance_case *cases[CASES_MAX];
    unsigned count;
};

static void table_add(struct selection *selection, const struct conformance_case *table, const char *glob)
{
    for (; table->id != NULL && selection->count < CASES_MAX; table++) {
        if (glob == NULL || fnmatch(glob, table->id, 0) == 0)
            selection->cases[selection->count++] = table;
    }
}

/* No adapter has such a name. */
static const char speaks_asked[] = "described, asked";
static const char speaks_alone[] = "described, talks by itself";

static bool table_fits(const char *speaks, const char *adapter, const struct description *description)
{
    if (speaks == NULL || strcmp(speaks, adapter) == 0)
        return true;
    bool described = strcmp(adapter, "described") == 0 && (speaks == speaks_asked || speaks == speaks_alone);
    return described && (description == NULL || description->polled == (speaks == speaks_asked));
}

/* Notes are used where they make sense: first what needs none, the counter's wrap before any reset, the adapter last. */
static void cases_select(const struct options *options, const struct description *description,
                         struct selection *selection)
{
    static const struct {
        const char *speaks; /* NULL = every adapter */
        const struct conformance_case *table;
    } tables[] = {{"cctalk", cctalk_framing_cases},
                  {"cctalk", cctalk_timing_cases},
                  {"cctalk", cctalk_identity_cases},
                  {"cctalk", cctalk_notes_cases},
                  {"cctalk", cctalk_events_cases},
                  {"cctalk", cctalk_inhibit_cases},
                  {"cctalk", cctalk_escrow_cases},
                  {"cctalk", cctalk_reset_cases},
                  {"mdb", mdb_framing_cases},
                  {"mdb", mdb_money_cases},
                  {"pulse", pulse_cases},
                  {speaks_asked, described_asked_cases},
                  {speaks_asked, described_notes_cases},
                  {speaks_alone, described_talk_cases},
                  {NULL, adapter_cases}};
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        if (table_fits(tables[i].speaks, options->adapter, description))
            table_add(selection, tables[i].table, options->cases);
    }
}

static uint64_t clock_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

static int32_t port_open(struct suite *suite, cfoil_error_info *error)
{
    const cfoil_line *settings = suite->description != NULL ? &suite->description->line : NULL;
    return line_open(suite->options->port, suite->options->adapter, settings, &suite->line, error);
}

/* The port changes hands between wire cases and the adapter. */
static bool line_for(struct suite *suite, struct trial *trial)
{
    if (trial->item->side == SIDE_ADAPTER) {
        line_close(suite->line);
        suite->line = NULL;
        return true;
    }
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (suite->line == NULL && port_open(suite, &error) != CFOIL_OK) {
        expect(trial, false, "the port cannot be opened: %s", error.text);
        return false;
    }
    if (line_begin(suite->line))
        return true;
    return expect(trial, false, "%s", line_gone(suite->line));
}

/* Under which settings can this case be repeated? What the device was found to use, unless the tester said. */
static void settings_choose(struct suite *suite, struct trial *trial)
{
    const char *settings = suite->options->settings;
    if (settings[0] == '\0' && suite->line != NULL)
        settings = line_trace_settings(suite->line);
    if (settings[0] == '\0' && trial->item->side == SIDE_WIRE)
        settings = suite->settings;
    snprintf(trial->settings, sizeof trial->settings, "%s", settings);
}

static void evidence_keep(struct suite *suite, struct trial *trial)
{
    const struct options *options = suite->options;
    if (trial->result != RESULT_FAILED || options->trace_folder == NULL || trial->item->side != SIDE_WIRE ||
        suite->line == NULL || line_journal_count(suite->line) == 0)
        return;
    char name[64];
    snprintf(name, sizeof name, "%s", trial->item->id);
    for (char *at = strchr(name, '/'); at != NULL; at = strchr(at, '/'))
        *at = '-';
    char path[sizeof trial->evidence];
    if (snprintf(path, sizeof path, "%s/%s.trace", options->trace_folder, name) >= (int)sizeof path) {
        figure(trial, "no trace: its path is too long");
        return;
    }
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (line_journal_save(suite->line, path, options->adapter, trial->settings, &error) == CFOIL_OK)
        memcpy(trial->evidence, path, sizeof path);
    else
        figure(trial, "no trace: %s", error.text);
}

static void case_try(struct suite *suite, struct trial *trial)
{
    uint64_t begin_us = clock_us();
    if (stop_asked()) {
        skip(trial, "it was stopped");
    } else if (trial->item->side == SIDE_ADAPTER && strncmp(suite->options->port, "trace:", 6) == 0) {
        skip(trial, "a trace can stand in for the port in wire cases only");
    } else if (line_for(suite, trial)) {
        settings_choose(suite, trial);
        trial->item->run(trial);
    }
    if (suite->line != NULL && trial->item->side == SIDE_WIRE && line_gone(suite->line) != NULL && !stop_asked() &&
        trial->result != RESULT_FAILED) {
        trial->result = RESULT_PASSED;
        expect(trial, false, "the line ended: %s", line_gone(suite->line));
    }
    trial->took_us = clock_us() - begin_us;
    evidence_keep(suite, trial);
}

static int cases_run(struct suite *suite, const struct selection *selection)
{
    const struct options *options = suite->options;
    struct finished *finished = calloc(selection->count + 1, sizeof *finished);
    if (finished == NULL)
        return 2;
    bool failed = false;
    report_begin(options, selection->count);
    for (unsigned i = 0; i < selection->count; i++) {
        struct trial trial = {.item = selection->cases[i], .suite = suite, .options = options};
        case_try(suite, &trial);
        report_trial(options, i + 1, &trial, suite->line);
        finished[i] = (struct finished){trial.item, trial.result, trial.took_us,
                                        strdup(trial.result == RESULT_PASSED ? trial.figures : trial.why)};
        failed = failed || trial.result == RESULT_FAILED;
        if (suite->line != NULL && line_gone(suite->line) != NULL && strncmp(options->port, "trace:", 6) != 0) {
            line_close(suite->line); /* it may be back for the next case */
            suite->line = NULL;
        }
    }
    report_end(options, finished, selection->count);
    bool written = options->junit == NULL || report_junit(options, finished, selection->count);
    for (unsigned i = 0; i < selection->count; i++)
        free(finished[i].text);
    free(finished);
    return !written ? 2 : failed ? 1 : 0;
}

/* A port that is not there is a mistake of the call, not of the device. */
static int port_check(struct suite *suite)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = port_open(suite, &error);
    if (result == CFOIL_OK)
        return 0;
    fprintf(stderr, "counterfoil-conform: %s\n", error.text);
    return 2;
}

static void stop_prepare(void)
{
    struct sigaction action;
    memset(&action, 0, sizeof action);
    sigemptyset(&action.sa_mask);
    action.sa_handler = stop_note;
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    action.sa_handler = SIG_IGN;
    sigaction(SIGPIPE, &action, NULL);
}

static int suite_run(const struct options *options, const cfoil_adapter *loaded, const struct description *description)
{
    struct selection selection = {.count = 0};
    cases_select(options, description, &selection);
    if (selection.count == 0) {
        fprintf(stderr, "counterfoil-conform: no case fits; see --list\n");
        return 2;
    }
    if (options->list) {
        report_list(selection.cases, selection.count);
        return 0;
    }
    stop_prepare();
    struct suite suite = {.options = options, .loaded = loaded, .description = description};
    strcpy(suite.folder, "/tmp/counterfoil-conform-XXXXXX");
    if (mkdtemp(suite.folder) == NULL || (options->trace_folder != NULL && access(options->trace_folder, W_OK) != 0)) {
        fprintf(stderr, "counterfoil-conform: a folder for traces cannot be used; does --trace name one?\n");
        rmdir(suite.folder);
        return 2;
    }
    int status = port_check(&suite);
    if (status == 0)
        status = cases_run(&suite, &selection);
    line_close(suite.line);
    if (suite.last_trace[0] != '\0' && options->trace_folder == NULL)
        unlink(suite.last_trace);
    rmdir(suite.folder);
    return status;
}

static int description_read(const struct options *options, struct description **description)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (options->description == NULL ||
        description_load(&memory_heap, options->description, description, &error) == CFOIL_OK)
        return 0;
    fprintf(stderr, "counterfoil-conform: %s\n", error.text);
    return 2;
}

int main(int count, char **arguments)
{
    struct options options;
    int status = options_read(count, arguments, &options);
    if (status != 0)
        return status == 1 ? 0 : status;
    struct os_library *library = NULL;
    const cfoil_adapter *loaded = NULL;
    if (options.adapter_file != NULL && !adapter_file_open(options.adapter_file, &library, &loaded))
        return 2;
    if (loaded != NULL)
        options.adapter = loaded->id;
    struct description *description = NULL;
    status = description_read(&options, &description);
    if (status == 0)
        status = suite_run(&options, loaded, description);
    memory_release(&memory_heap, description);
    os_library_close(&memory_heap, library);
    return status;
}
