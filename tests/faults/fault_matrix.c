/*
 * The whole way from a simulated device over TCP through adapter, lane and ledger, under every kind of fault, with one
 * invariant: no money is invented, lost silently, or doubled. What the device truly did is read from its own log.
 *   fault_matrix [--through PORT COMMAND] ADAPTER SIMULATOR SCRIPT_DIR [SCRIPT]
 *
 * With --through the lane opens PORT, one script at a time, and `COMMAND TCP_PORT` is what joins that port with the
 * simulator: tests/system/machine.
 */
#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>
#include <dirent.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <spawn.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { SCRIPTS_MAX = 128, WORKERS = 8, TYPES = 256, LIMIT_MS = 60000 };

/* What the host does with notes. A script that needs a host of one kind says so in its first line. */
enum host { HOST_STACKS, HOST_RETURNS_FIRST, HOST_WAITS, HOST_TAKES_ALL };

/* One script with one way of accepting notes. */
struct run {
    char script[512];
    int32_t accept;
    enum host host;
    unsigned held;
    int32_t end_result; /* why the lane ended by itself, or 0 */
    bool stopped;       /* no notes are taken, and nothing is wrong with the device */
    bool resuming;      /* the host has taken its word back, to give it again */
    bool useless;       /* the device has no notes that could be taken: the host leaves */
    char folder[64];
    char port[16];
    pid_t simulator;
    int output;               /* what the simulator prints */
    unsigned credited[TYPES]; /* by the host */
    unsigned recorded[TYPES]; /* by the ledger */
    unsigned told[TYPES];     /* credit events that the device made */
    unsigned unsaid;          /* notes that the device stacked and had no event for */
    unsigned resets;
    unsigned shortfalls; /* events by which the host says that money may be missing */
    uint64_t sequence;
    int failed;
    char why[1024];
};

static const char *adapter;
static const char *simulator_path;
static const char *through_port; /* NULL = straight to the simulator */
static const char *through_command;
static struct run runs[2 * SCRIPTS_MAX];
static size_t run_count;
static size_t run_next;
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
extern char **environ;

static void fail(struct run *run, const char *format, ...)
{
    run->failed = 1;
    size_t used = strlen(run->why);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(run->why + used, sizeof run->why - used, format, arguments);
    va_end(arguments);
}

static void path_make(const struct run *run, const char *name, char path[128])
{
    snprintf(path, 128, "%s/%s", run->folder, name);
}

/* ---- The device ---- */

static int simulator_start(struct run *run)
{
    char port_file[128];
    char log_file[128];
    int pipes[2];
    path_make(run, "port", port_file);
    path_make(run, "truth", log_file);
    const char *const arguments[] = {simulator_path, "--script", run->script,       "--port-file", port_file, "--log",
                                     log_file,       "--once",   "--stop-after-ms", "50000",       NULL};
    if (pipe(pipes) != 0)
        return -1;
    fcntl(pipes[0], F_SETFD, FD_CLOEXEC);
    fcntl(pipes[1], F_SETFD, FD_CLOEXEC);
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, pipes[1], 1);
    posix_spawn_file_actions_adddup2(&actions, pipes[1], 2);
    int error = posix_spawn(&run->simulator, simulator_path, &actions, NULL, (char *const *)(uintptr_t)arguments,
                            environ);
    posix_spawn_file_actions_destroy(&actions);
    close(pipes[1]);
    run->output = pipes[0];
    return error;
}

/* The port file is there, whole, before the simulator says its first word. */
static int port_wait(struct run *run)
{
    char path[128];
    char word;
    struct pollfd item = {run->output, POLLIN, 0};
    if (poll(&item, 1, 30000) != 1 || read(run->output, &word, 1) != 1)
        return -1;
    path_make(run, "port", path);
    FILE *file = fopen(path, "r");
    if (file == NULL)
        return -1;
    int read_count = fscanf(file, "%15s", run->port);
    fclose(file);
    return read_count == 1 ? 0 : -1;
}

/* What joins the port with the simulator. 0 = there is none. */
static pid_t joint_start(const struct run *run)
{
    char line[512];
    if (through_command == NULL)
        return 0;
    snprintf(line, sizeof line, "exec %s %s", through_command, run->port);
    const char *const arguments[] = {"sh", "-c", line, NULL};
    pid_t child = 0;
    return posix_spawn(&child, "/bin/sh", NULL, NULL, (char *const *)(uintptr_t)arguments, environ) == 0 ? child : 0;
}

static void child_end(pid_t child)
{
    if (child <= 0)
        return;
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
}

/* ---- The host ---- */

static void held_decide(struct run *run, cfoil_lane *lane, const cfoil_event *event)
{
    run->held++;
    if (run->host == HOST_WAITS)
        return;
    if (run->host == HOST_RETURNS_FIRST && run->held == 1)
        (void)cfoil_note_return(lane, event->presentation);
    else
        (void)cfoil_note_stack(lane, event->presentation);
}

static void event_take(struct run *run, cfoil_lane *lane, const cfoil_event *event)
{
    if (event->sequence != run->sequence + 1)
        fail(run, " sequence %llu follows %llu;", (unsigned long long)event->sequence,
             (unsigned long long)run->sequence);
    run->sequence = event->sequence;
    if (event->kind == CFOIL_KIND_STACKED)
        run->credited[event->note_type & 0xFF]++;
    if (event->kind == CFOIL_KIND_HELD && run->accept == CFOIL_ACCEPT_HOLD)
        held_decide(run, lane, event);
    if (event->lane_state == CFOIL_LANE_ENDED)
        run->end_result = event->result;
    if (event->kind == CFOIL_KIND_LANE_STATE) {
        run->stopped = event->lane_state == CFOIL_LANE_IDLE && event->result == CFOIL_OK;
        run->useless = event->lane_state == CFOIL_LANE_IDLE && event->result == CFOIL_E_DEVICE_NOTES;
    }
    if (event->kind == CFOIL_KIND_LOST_EVENTS || event->condition == CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT ||
        event->condition == CFOIL_CONDITION_OUTCOME_UNKNOWN)
        run->shortfalls++;
    bool moves = event->kind >= CFOIL_KIND_HELD && event->kind <= CFOIL_KIND_REJECTED;
    if (moves && (event->flags & CFOIL_EVENT_RECORDED) == 0)
        fail(run, " event %llu is not recorded;", (unsigned long long)event->sequence);
}

static void simulator_status_check(struct run *run, int status)
{
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0)
        return;
    fail(run, " the simulator ended with status %#x:", (unsigned)status);
    char said[600];
    ssize_t length = read(run->output, said, sizeof said - 1);
    said[length > 0 ? length : 0] = '\0';
    for (char *end = said; (end = strchr(end, '\n')) != NULL;)
        *end = ' ';
    fail(run, "%s;", said);
}

/* A lane that stopped taking notes by itself waits for a person to look. Nothing happens: the person has looked. */
static void host_resume(struct run *run, cfoil_lane *lane)
{
    if (!run->stopped && !run->resuming)
        return;
    int32_t result = cfoil_lane_accept(lane, run->resuming ? run->accept : CFOIL_ACCEPT_NONE);
    run->resuming = !run->resuming;
    if (result != CFOIL_OK)
        fail(run, " cfoil_lane_accept: %s;", cfoil_error_text(result));
}

/* True when the device has ended. */
static bool simulator_ended(struct run *run)
{
    int status;
    if (waitpid(run->simulator, &status, WNOHANG) != run->simulator)
        return false;
    simulator_status_check(run, status);
    run->simulator = 0;
    return true;
}

/* A host that has left is what the script waits for. Bounded by the simulator's own end. */
static void host_leave(struct run *run, cfoil_lane *lane)
{
    int status;
    cfoil_lane_close(lane);
    if (waitpid(run->simulator, &status, 0) == run->simulator)
        simulator_status_check(run, status);
    run->simulator = 0;
}

/* Until the device has ended and nothing more comes, or is of no use. */
static void host_run(struct run *run, cfoil_lane *lane)
{
    bool ended = false;
    for (int waited_ms = 0; waited_ms < LIMIT_MS;) {
        cfoil_event event = CFOIL_EVENT_INIT;
        int32_t result = cfoil_lane_wait(lane, 200, &event);
        if (result == CFOIL_OK) {
            event_take(run, lane, &event);
            continue;
        }
        if (result != CFOIL_E_TIME_OUT) {
            fail(run, " cfoil_lane_wait: %s;", cfoil_error_text(result));
            return;
        }
        if (ended || run->useless)
            return;
        waited_ms += 200;
        ended = simulator_ended(run);
        host_resume(run, lane);
    }
    fail(run, " it does not end;");
}

static void host_open_and_run(struct run *run)
{
    char ledger_path[128];
    char trace_path[128];
    char port[64];
    path_make(run, "ledger", ledger_path);
    path_make(run, "trace", trace_path);
    snprintf(port, sizeof port, "tcp:127.0.0.1:%s", run->port);
    pid_t joint = joint_start(run);
    cfoil_context *context = NULL;
    cfoil_ledger *ledger = NULL;
    cfoil_lane *lane = NULL;
    cfoil_ledger_options ledger_options = CFOIL_LEDGER_OPTIONS_INIT;
    ledger_options.path = ledger_path;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = adapter;
    options.port = through_port != NULL ? through_port : port;
    options.accept = run->accept;
    options.record_path = trace_path;
    int32_t result = cfoil_context_open(NULL, &context);
    if (result == CFOIL_OK)
        result = cfoil_ledger_open(context, &ledger_options, &ledger);
    options.ledger = ledger;
    if (result == CFOIL_OK)
        result = cfoil_lane_open(context, &options, &lane);
    if (result == CFOIL_OK)
        host_run(run, lane);
    else
        fail(run, " opening: %s;", cfoil_error_text(result));
    if (run->useless && run->simulator > 0)
        host_leave(run, lane);
    else
        cfoil_lane_close(lane);
    child_end(joint);
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    if (cfoil_ledger_verify(ledger, &check) != CFOIL_OK || !check.intact)
        fail(run, " the ledger is not intact: %s;", check.text);
    static _Thread_local char entry[65536];
    for (int64_t number = 2; number <= check.entries; number++) {
        if (cfoil_ledger_entry_json(ledger, number, entry, sizeof entry, NULL) != CFOIL_OK) {
            fail(run, " entry %lld cannot be read;", (long long)number);
            continue;
        }
        cJSON *object = cJSON_Parse(entry);
        const cJSON *body = cJSON_GetObjectItem(object, "body");
        const cJSON *kind = cJSON_GetObjectItem(body, "kind");
        const cJSON *type = cJSON_GetObjectItem(body, "note_type");
        if (cJSON_IsString(kind) && strcmp(kind->valuestring, "stacked") == 0 && cJSON_IsNumber(type))
            run->recorded[type->valueint & 0xFF]++;
        cJSON_Delete(object);
    }
    cfoil_context_close(context);
}

/* Replaying what was recorded must tell the same credits. */
static void replay_check(struct run *run)
{
    char path[128];
    char port[160];
    path_make(run, "trace", path);
    snprintf(port, sizeof port, "trace:%s", path);
    cfoil_context *context = NULL;
    cfoil_lane *lane = NULL;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = adapter;
    options.port = port;
    options.accept = run->accept;
    unsigned credited[TYPES] = {0};
    if (cfoil_context_open(NULL, &context) != CFOIL_OK || cfoil_lane_open(context, &options, &lane) != CFOIL_OK) {
        fail(run, " the trace cannot be replayed;");
        cfoil_context_close(context);
        return;
    }
    cfoil_event event = CFOIL_EVENT_INIT;
    while (cfoil_lane_wait(lane, 20000, &event) == CFOIL_OK) {
        if (event.kind == CFOIL_KIND_STACKED)
            credited[event.note_type & 0xFF]++;
        if (event.kind == CFOIL_KIND_LANE_STATE && event.lane_state == CFOIL_LANE_ENDED)
            break;
    }
    if (event.result != CFOIL_E_PORT_ENDED && event.result != run->end_result)
        fail(run, " the replay ends with: %s;", event.text);
    if (memcmp(credited, run->credited, sizeof credited) != 0)
        fail(run, " the replay credits something else;");
    cfoil_context_close(context);
}

/* ---- The truth ---- */

/* The type that an event of the device credits, as cfoil_event.note_type counts it; 0 = none. ccTalk tells a type and 0
 * in two bytes; MDB tells 80 to 8F (stacked) or B0 to BF (to the recycler) in one, with types from 0. */
static int credit_type(int first, int second)
{
    if (second >= 0)
        return second == 0 ? first : 0;
    bool credit = (first & 0xF0) == 0x80 || (first & 0xF0) == 0xB0;
    return credit ? (first & 0x0F) + 1 : 0;
}

static void truth_line_take(struct run *run, const cJSON *line)
{
    const cJSON *word = cJSON_GetObjectItem(line, "truth");
    const cJSON *event = cJSON_GetObjectItem(line, "event");
    if (!cJSON_IsString(word))
        return;
    const cJSON *a = cJSON_GetArrayItem(event, 0);
    const cJSON *b = cJSON_GetArrayItem(event, 1);
    int type = cJSON_IsNumber(a) ? credit_type(a->valueint, cJSON_IsNumber(b) ? b->valueint : -1) : 0;
    if (type > 0)
        run->told[type & 0xFF]++;
    else if (strcmp(word->valuestring, "stacked") == 0 && event == NULL)
        run->unsaid++;
    if (strcmp(word->valuestring, "forgotten") == 0)
        run->unsaid++;
    if (strcmp(word->valuestring, "reset") == 0 || strcmp(word->valuestring, "power_off") == 0)
        run->resets++;
}

static void truth_read(struct run *run)
{
    char path[128];
    path_make(run, "truth", path);
    FILE *file = fopen(path, "r");
    char line[1024];
    while (file != NULL && fgets(line, sizeof line, file) != NULL) {
        cJSON *object = cJSON_Parse(line);
        truth_line_take(run, object);
        cJSON_Delete(object);
    }
    if (file == NULL)
        fail(run, " no log of the device;");
    else
        fclose(file);
}

static void invariant_check(struct run *run)
{
    for (int type = 0; type < TYPES; type++) {
        if (run->credited[type] > run->told[type])
            fail(run, " type %d: %u stacked, %u credited: money was invented or doubled;", type, run->told[type],
                 run->credited[type]);
        if (run->credited[type] < run->told[type] && run->shortfalls == 0)
            fail(run, " type %d: %u stacked, %u credited, and nothing said: money was lost silently;", type,
                 run->told[type], run->credited[type]);
        if (run->credited[type] != run->recorded[type])
            fail(run, " type %d: %u credited, %u recorded;", type, run->credited[type], run->recorded[type]);
    }
    if (run->unsaid > 0 && run->shortfalls == 0)
        fail(run, " the device stacked %u notes without an event, and nothing was said;", run->unsaid);
}

/* ---- Running ---- */

static void folder_remove(const struct run *run)
{
    static const char *const names[] = {"port", "truth", "ledger", "ledger-wal", "ledger-shm", "trace"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char path[128];
        path_make(run, names[i], path);
        unlink(path);
    }
    rmdir(run->folder);
}

static void run_do(struct run *run)
{
    strcpy(run->folder, "/tmp/counterfoil-matrix-XXXXXX");
    if (mkdtemp(run->folder) == NULL || simulator_start(run) != 0 || port_wait(run) != 0) {
        fail(run, " the simulator does not start;");
        return;
    }
    host_open_and_run(run);
    close(run->output);
    child_end(run->simulator);
    truth_read(run);
    invariant_check(run);
    replay_check(run);
    if (!run->failed)
        folder_remove(run);
}

static void *worker_run(void *user)
{
    (void)user;
    for (;;) {
        pthread_mutex_lock(&lock);
        size_t index = run_next < run_count ? run_next++ : SIZE_MAX;
        pthread_mutex_unlock(&lock);
        if (index == SIZE_MAX)
            return NULL;
        run_do(&runs[index]);
    }
}

static int name_compare(const void *left, const void *right)
{
    return strcmp(((const struct run *)left)->script, ((const struct run *)right)->script);
}

/* Reads the first line. */
static enum host host_read(const char *script, bool *any)
{
    char line[128] = "";
    FILE *file = fopen(script, "r");
    if (file != NULL) {
        if (fgets(line, sizeof line, file) == NULL)
            line[0] = '\0';
        fclose(file);
    }
    *any = strncmp(line, "# host:", 7) != 0;
    return strcmp(line, "# host: returns the first\n") == 0 ? HOST_RETURNS_FIRST
           : strcmp(line, "# host: waits\n") == 0           ? HOST_WAITS
           : strcmp(line, "# host: takes all\n") == 0       ? HOST_TAKES_ALL
                                                            : HOST_STACKS;
}

static void runs_list(const char *folder, const char *only)
{
    DIR *directory = opendir(folder);
    for (struct dirent *item; directory != NULL && (item = readdir(directory)) != NULL;) {
        size_t length = strlen(item->d_name);
        if (length < 5 || strcmp(item->d_name + length - 4, ".sim") != 0 || run_count + 2 > 2 * SCRIPTS_MAX)
            continue;
        if (only != NULL && strcmp(only, item->d_name) != 0)
            continue;
        char script[512];
        snprintf(script, sizeof script, "%s/%s", folder, item->d_name);
        bool any;
        enum host host = host_read(script, &any);
        int32_t first = host == HOST_TAKES_ALL ? CFOIL_ACCEPT_ALL : CFOIL_ACCEPT_HOLD;
        int32_t last = any || host == HOST_TAKES_ALL ? CFOIL_ACCEPT_ALL : CFOIL_ACCEPT_HOLD;
        for (int32_t accept = first; accept <= last; accept++) {
            struct run *run = &runs[run_count++];
            memcpy(run->script, script, sizeof run->script);
            run->accept = accept;
            run->host = host;
        }
    }
    if (directory != NULL)
        closedir(directory);
    qsort(runs, run_count, sizeof runs[0], name_compare);
}

int main(int count, char **arguments)
{
    if (count > 3 && strcmp(arguments[1], "--through") == 0) {
        through_port = arguments[2];
        through_command = arguments[3];
        arguments += 3;
        count -= 3;
    }
    if (count < 4 || count > 5) {
        fprintf(stderr, "usage: %s [--through PORT COMMAND] ADAPTER SIMULATOR SCRIPT_DIR [SCRIPT]\n", arguments[0]);
        return 2;
    }
    adapter = arguments[1];
    simulator_path = arguments[2];
    runs_list(arguments[3], count == 5 ? arguments[4] : NULL);
    pthread_t workers[WORKERS];
    int worker_count = through_port != NULL ? 1 : WORKERS; /* a port has one lane */
    for (int i = 0; i < worker_count; i++)
        pthread_create(&workers[i], NULL, worker_run, NULL);
    for (int i = 0; i < worker_count; i++)
        pthread_join(workers[i], NULL);
    int failures = 0;
    unsigned credits = 0;
    for (size_t i = 0; i < run_count; i++) {
        const struct run *run = &runs[i];
        const char *name = strrchr(run->script, '/') + 1;
        unsigned sum = 0;
        for (int type = 0; type < TYPES; type++)
            sum += run->credited[type];
        credits += sum;
        failures += run->failed;
        printf("%s %zu - %s, %s: %u credited%s%s%s\n", run->failed ? "not ok" : "ok", i + 1, name,
               run->accept == CFOIL_ACCEPT_HOLD ? "hold" : "all", sum, run->shortfalls > 0 ? ", shortfall told" : "",
               run->why, run->failed ? run->folder : "");
    }
    printf("1..%zu\n%u credits, %d failures\n", run_count, credits, failures);
    return run_count > 0 && failures == 0 ? 0 : 1;
}
