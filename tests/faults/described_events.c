/*
 * The ccTalk description of examples/descriptions and the built-in ccTalk adapter, each against the simulated device with
 * the same script: both must tell the same events.
 *   described_events SIMULATOR SCRIPT_DIR DESCRIPTION
 */
#include <counterfoil/counterfoil.h>
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { EVENTS_MAX = 128, LIMIT_MS = 40000 };

struct run {
    const char *script;
    const char *adapter;
    int32_t accept;
    char folder[64];
    char port[16];
    pid_t simulator;
    int failed;
    unsigned count;
    cfoil_event events[EVENTS_MAX];
};

static const char *simulator_path;
static const char *script_folder;
static const char *description_path;
extern char **environ;

static int simulator_start(struct run *run)
{
    char script[512];
    char port_file[128];
    snprintf(script, sizeof script, "%s/%s.sim", script_folder, run->script);
    snprintf(port_file, sizeof port_file, "%s/port", run->folder);
    const char *const arguments[] = {simulator_path, "--script",        script,  "--port-file", port_file,
                                     "--once",       "--stop-after-ms", "50000", NULL};
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, 1, "/dev/null", O_WRONLY, 0);
    int error = posix_spawn(&run->simulator, simulator_path, &actions, NULL, (char *const *)(uintptr_t)arguments,
                            environ);
    posix_spawn_file_actions_destroy(&actions);
    if (error != 0)
        return -1;
    /* The port file appears whole, by renaming. */
    for (int tries = 0; tries < 200000; tries++) {
        FILE *file = fopen(port_file, "r");
        if (file != NULL) {
            int read = fscanf(file, "%15s", run->port);
            fclose(file);
            return read == 1 ? 0 : -1;
        }
        sched_yield();
    }
    return -1;
}

/* What a cashier would notice to be different; how a state of the lane is worded is not. */
static int is_kept(const cfoil_event *event)
{
    return event->kind != CFOIL_KIND_LANE_STATE && event->condition != CFOIL_CONDITION_IDENTIFIED;
}

static void event_take(struct run *run, cfoil_lane *lane, const cfoil_event *event)
{
    if (event->kind == CFOIL_KIND_HELD && run->accept == CFOIL_ACCEPT_HOLD)
        (void)cfoil_note_stack(lane, event->presentation);
    if (!is_kept(event))
        return;
    if (run->count < EVENTS_MAX)
        run->events[run->count++] = *event;
    else
        run->failed = 1;
}

/* Until the device has ended and nothing more comes. */
static void host_run(struct run *run, cfoil_lane *lane)
{
    int ended = 0;
    for (int waited_ms = 0; waited_ms < LIMIT_MS;) {
        cfoil_event event = CFOIL_EVENT_INIT;
        int32_t result = cfoil_lane_wait(lane, 200, &event);
        if (result == CFOIL_OK) {
            event_take(run, lane, &event);
            continue;
        }
        if (ended)
            return;
        waited_ms += 200;
        int status = 0;
        if (waitpid(run->simulator, &status, WNOHANG) == run->simulator) {
            run->simulator = 0;
            run->failed |= status != 0;
            ended = 1;
        }
    }
    run->failed = 1;
}

static void run_do(struct run *run)
{
    char port[64];
    cfoil_context *context = NULL;
    cfoil_lane *lane = NULL;
    strcpy(run->folder, "/tmp/counterfoil-described-XXXXXX");
    if (mkdtemp(run->folder) == NULL || simulator_start(run) != 0) {
        run->failed = 1;
        return;
    }
    snprintf(port, sizeof port, "tcp:127.0.0.1:%s", run->port);
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = run->adapter;
    options.port = port;
    options.accept = run->accept;
    if (cfoil_context_open(NULL, &context) == CFOIL_OK &&
        cfoil_adapter_describe(context, description_path) == CFOIL_OK &&
        cfoil_lane_open(context, &options, &lane) == CFOIL_OK)
        host_run(run, lane);
    else
        run->failed = 1;
    cfoil_context_close(context);
    if (run->simulator > 0) {
        kill(run->simulator, SIGKILL);
        waitpid(run->simulator, NULL, 0);
    }
    char path[128];
    snprintf(path, sizeof path, "%s/port", run->folder);
    unlink(path);
    rmdir(run->folder);
}

static int same(const cfoil_event *left, const cfoil_event *right)
{
    /* What a self-check is called in raw_text is each adapter's own. */
    int raw = left->condition == CFOIL_CONDITION_FAULT_CLEARED || strcmp(left->raw_text, right->raw_text) == 0;
    return left->kind == right->kind && left->condition == right->condition && left->reason == right->reason &&
           left->reasons_possible == right->reasons_possible && left->note_type == right->note_type &&
           left->value_minor == right->value_minor && strcmp(left->currency, right->currency) == 0 &&
           strcmp(left->note_name, right->note_name) == 0 && left->lost_count == right->lost_count &&
           left->presentation == right->presentation && left->finding_count == right->finding_count &&
           memcmp(left->findings, right->findings, sizeof left->findings) == 0 &&
           left->raw_length == right->raw_length && memcmp(left->raw, right->raw, sizeof left->raw) == 0 && raw;
}

/* When a fault is cleared depends on when the device was asked: it is left out where that may differ. */
static unsigned timeless(const struct run *run, const cfoil_event *events[EVENTS_MAX])
{
    unsigned count = 0;
    for (unsigned i = 0; i < run->count; i++) {
        if (run->events[i].condition != CFOIL_CONDITION_FAULT_CLEARED)
            events[count++] = &run->events[i];
    }
    return count;
}

static int compare(const struct run *left, const struct run *right)
{
    const cfoil_event *first[EVENTS_MAX];
    const cfoil_event *second[EVENTS_MAX];
    unsigned count = timeless(left, first);
    int bad = left->failed || right->failed || count == 0 || count != timeless(right, second);
    for (unsigned i = 0; i < count && !bad; i++) {
        bad = !same(first[i], second[i]);
        if (bad)
            printf("# event %u: '%s' [%s] and '%s' [%s]\n", i, first[i]->text, first[i]->raw_text, second[i]->text,
                   second[i]->raw_text);
    }
    return bad;
}

int main(int count, char **arguments)
{
    static const char *const scripts[] = {"hold-and-stack", "all-reject-codes", "wrap", "lost-events"};
    static struct run runs[2];
    int failures = 0;
    if (count != 4) {
        fprintf(stderr, "usage: %s SIMULATOR SCRIPT_DIR DESCRIPTION\n", arguments[0]);
        return 2;
    }
    simulator_path = arguments[1];
    script_folder = arguments[2];
    description_path = arguments[3];
    for (unsigned i = 0; i < sizeof scripts / sizeof scripts[0]; i++) {
        for (int32_t accept = CFOIL_ACCEPT_HOLD; accept <= CFOIL_ACCEPT_ALL; accept++) {
            runs[0] = (struct run){.script = scripts[i], .adapter = "cctalk", .accept = accept};
            runs[1] = (struct run){.script = scripts[i], .adapter = "cctalk-events", .accept = accept};
            run_do(&runs[0]);
            run_do(&runs[1]);
            int bad = compare(&runs[0], &runs[1]);
            failures += bad;
            printf("%s %u - %s, accept %d: %u and %u events\n", bad ? "not ok" : "ok", 2 * i + (unsigned)accept,
                   scripts[i], (int)accept, runs[0].count, runs[1].count);
            fflush(stdout);
        }
    }
    return failures == 0 ? 0 : 1;
}
