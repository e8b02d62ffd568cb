/*
 * One USB port in the emulated machine, pulled out and plugged in again and again: is that told in time, does the lane
 * come back, and is everything given back? Says TAP.
 *   ports PORT GADGET CYCLES    with a simulated ccTalk validator behind the gadget
 */
#define _GNU_SOURCE

#include <counterfoil/counterfoil.h>
#include <dirent.h>
#include <malloc.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

/* What is promised, and what is demanded here: an emulated processor without hardware acceleration may be ten times
 * slower than a till and shares its host with other work. */
#define LOST_PROMISED_MS 2000
#define BACK_PROMISED_MS 5000
#define SLOWNESS         2
#define READY_MAX_MS     20000

static const char *port;
static const char *gadget;
static char controller[64];
static int number;
static int failures;

static void report(bool good, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    printf("%s %d - ", good ? "ok" : "not ok", ++number);
    vprintf(format, arguments);
    printf("\n");
    fflush(stdout);
    va_end(arguments);
    failures += good ? 0 : 1;
}

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* ---- Plugging ---- */

static void controller_learn(void)
{
    char path[256];
    snprintf(path, sizeof path, "%s/UDC", gadget);
    FILE *file = fopen(path, "r");
    if (file == NULL || fscanf(file, "%63s", controller) != 1)
        controller[0] = '\0';
    if (file != NULL)
        fclose(file);
}

static void plug(bool in)
{
    char path[256];
    snprintf(path, sizeof path, "%s/UDC", gadget);
    FILE *file = fopen(path, "w");
    if (file == NULL)
        return;
    fputs(in ? controller : "\n", file);
    fclose(file);
}

/* ---- Waiting for a lane ---- */

static cfoil_lane *lane_open(cfoil_context *context, const char *name, const char *at)
{
    cfoil_lane *lane = NULL;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "cctalk";
    options.port = at;
    options.name = name;
    if (cfoil_lane_open(context, &options, &lane) != CFOIL_OK)
        return NULL;
    return lane;
}

/* The time until the lane tells this state, or -1. */
static int64_t state_wait(cfoil_lane *lane, int32_t state, int64_t max_ms, int32_t *result)
{
    int64_t begun = now_ms();
    while (now_ms() - begun < max_ms) {
        cfoil_event event = CFOIL_EVENT_INIT;
        int32_t waited = cfoil_lane_wait(lane, 100, &event);
        if (waited != CFOIL_OK && waited != CFOIL_E_TIME_OUT)
            return -1;
        if (waited != CFOIL_OK || event.kind != CFOIL_KIND_LANE_STATE || event.lane_state != state)
            continue;
        if (state == CFOIL_LANE_OPENING && event.result == CFOIL_OK)
            continue; /* it has only begun to open */
        if (result != NULL)
            *result = event.result;
        return now_ms() - begun;
    }
    return -1;
}

/* Why the port cannot be opened; waits until the device is there. CFOIL_OK = it can. */
static int32_t opening_result(cfoil_context *context, const char *name, const char *at)
{
    int32_t result = CFOIL_E_PORT_MISSING;
    for (int64_t begun = now_ms(); result == CFOIL_E_PORT_MISSING && now_ms() - begun < READY_MAX_MS;) {
        cfoil_lane *lane = lane_open(context, name, at);
        if (lane == NULL || state_wait(lane, CFOIL_LANE_OPENING, 3000, &result) < 0)
            result = CFOIL_OK;
        cfoil_lane_close(lane);
    }
    return result;
}

/* ---- What a process holds ---- */

static long folder_count(const char *folder)
{
    DIR *directory = opendir(folder);
    long count = 0;
    while (directory != NULL && readdir(directory) != NULL)
        count++;
    if (directory != NULL)
        closedir(directory);
    return count;
}

struct held {
    long descriptors;
    long threads;
    long bytes;
};

static struct held held_now(void)
{
    struct mallinfo2 heap = mallinfo2();
    return (struct held){folder_count("/proc/self/fd"), folder_count("/proc/self/task"),
                         (long)(heap.uordblks + heap.hblkhd)};
}

/* ---- The checks ---- */

struct cycles {
    int64_t lost_max_ms;
    int64_t back_max_ms;
    int lost_missed;
    int back_missed;
    int other_result;
};

/* `state`: how far the lane must come before the plug is pulled again. */
static void cycle_run(cfoil_lane *lane, int32_t state, struct cycles *cycles)
{
    int32_t result = CFOIL_OK;
    plug(false);
    int64_t lost_ms = state_wait(lane, CFOIL_LANE_LOST, READY_MAX_MS, &result);
    plug(true);
    int64_t back_ms = state_wait(lane, state, READY_MAX_MS, NULL);
    cycles->lost_missed += lost_ms < 0 ? 1 : 0;
    cycles->back_missed += back_ms < 0 ? 1 : 0;
    cycles->other_result += result != CFOIL_E_PORT_GONE ? 1 : 0;
    cycles->lost_max_ms = lost_ms > cycles->lost_max_ms ? lost_ms : cycles->lost_max_ms;
    cycles->back_max_ms = back_ms > cycles->back_max_ms ? back_ms : cycles->back_max_ms;
    if (lost_ms < 0 || back_ms < 0 || result != CFOIL_E_PORT_GONE)
        printf("# LOST after %lld ms with %#x, ready again after %lld ms\n", (long long)lost_ms, (unsigned)result,
               (long long)back_ms);
}

static void cycles_check(cfoil_context *context, int count)
{
    struct cycles cycles = {0};
    struct held early = {0};
    cfoil_lane *lane = lane_open(context, "cycles", port);
    report(state_wait(lane, CFOIL_LANE_IDLE, READY_MAX_MS, NULL) >= 0, "a device over %s becomes ready", port);
    controller_learn();
    for (int i = 0; i < count && cycles.back_missed == 0; i++) {
        if (i == 5) /* after what libraries keep for good */
            early = held_now();
        bool whole = i < 5 || i % 10 == 9; /* else it is pulled while the adapter looks for the device */
        cycle_run(lane, whole ? CFOIL_LANE_IDLE : CFOIL_LANE_STARTING, &cycles);
    }
    struct held late = held_now();
    printf("# longest until LOST %lld ms, until ready again %lld ms, guest's clock, %d cycles\n",
           (long long)cycles.lost_max_ms, (long long)cycles.back_max_ms, count);
    printf("# after cycle 5: %ld descriptors, %ld threads, %ld bytes; at the end: %ld, %ld, %ld\n", early.descriptors,
           early.threads, early.bytes, late.descriptors, late.threads, late.bytes);
    report(cycles.lost_missed == 0 && cycles.lost_max_ms <= SLOWNESS * LOST_PROMISED_MS,
           "each of %d times LOST is told (promised: %d ms, allowed here: %d ms)", count, LOST_PROMISED_MS,
           SLOWNESS * LOST_PROMISED_MS);
    report(cycles.back_missed == 0 && cycles.back_max_ms <= SLOWNESS * BACK_PROMISED_MS,
           "and the device is back (promised: %d ms, allowed here: %d ms)", BACK_PROMISED_MS,
           SLOWNESS * BACK_PROMISED_MS);
    report(cycles.other_result == 0, "with CFOIL_E_PORT_GONE each time");
    report(late.descriptors == early.descriptors, "no descriptor stays behind");
    report(late.threads == early.threads, "no thread stays behind");
    /* What is ours is given back to the byte: tests/unit/transport/test_usb.c. Here the libraries below are seen, too. */
    report(late.bytes <= early.bytes + 100L * count, "less than 100 bytes a time stay behind, libraries included");
    cfoil_lane_close(lane);
}

/* Out for longer than the pauses between two looks: a look must not come late. */
static void long_absence_check(cfoil_context *context)
{
    cfoil_lane *lane = lane_open(context, "absence", port);
    bool good = state_wait(lane, CFOIL_LANE_IDLE, READY_MAX_MS, NULL) >= 0;
    plug(false);
    good = good && state_wait(lane, CFOIL_LANE_LOST, READY_MAX_MS, NULL) >= 0;
    (void)state_wait(lane, CFOIL_LANE_IDLE, 8000, NULL); /* the pauses grow */
    plug(true);
    int64_t back_ms = state_wait(lane, CFOIL_LANE_IDLE, READY_MAX_MS, NULL);
    cfoil_lane_close(lane);
    printf("# after 8 s without it: ready again after %lld ms\n", (long long)back_ms);
    report(good && back_ms >= 0 && back_ms <= SLOWNESS * BACK_PROMISED_MS, "back after a long absence");
}

static void *unplug_run(void *user)
{
    (void)user;
    plug(false);
    return NULL;
}

static void closing_check(cfoil_context *context)
{
    int64_t longest_ms = 0;
    bool good = true;
    for (int i = 0; i < 6 && good; i++) {
        pthread_t thread;
        cfoil_lane *lane = lane_open(context, "closing", port);
        good = state_wait(lane, i % 2 == 0 ? CFOIL_LANE_IDLE : CFOIL_LANE_STARTING, READY_MAX_MS, NULL) >= 0;
        pthread_create(&thread, NULL, unplug_run, NULL);
        int64_t begun = now_ms();
        cfoil_lane_close(lane);
        int64_t took_ms = now_ms() - begun;
        longest_ms = took_ms > longest_ms ? took_ms : longest_ms;
        pthread_join(thread, NULL);
        plug(true);
    }
    printf("# longest closing %lld ms\n", (long long)longest_ms);
    report(good && longest_ms <= 2000, "a lane closes within 2 s while its plug is pulled, in use and at the start");
}

static void busy_check(cfoil_context *context)
{
    cfoil_lane *lane = lane_open(context, "first", port);
    bool good = state_wait(lane, CFOIL_LANE_IDLE, READY_MAX_MS, NULL) >= 0;
    report(good && opening_result(context, "second", port) == CFOIL_E_PORT_BUSY,
           "a second lane on the port is told that it is busy");
    cfoil_lane_close(lane);
}

static void permission_check(void)
{
    fflush(stdout);
    pid_t child = fork();
    if (child == 0) {
        cfoil_context *context = NULL;
        if (setgid(65534) != 0 || setuid(65534) != 0 || cfoil_context_open(NULL, &context) != CFOIL_OK)
            _exit(2);
        int32_t result = opening_result(context, "denied", port);
        printf("# another user: %#x\n", (unsigned)result);
        fflush(stdout);
        _exit(result == CFOIL_E_PORT_DENIED ? 0 : 1);
    }
    int status = -1;
    (void)waitpid(child, &status, 0);
    report(WIFEXITED(status) && WEXITSTATUS(status) == 0, "another user is told that it may not");
}

int main(int count, char **arguments)
{
    if (count != 4)
        return 2;
    port = arguments[1];
    gadget = arguments[2];
    cfoil_context *context = NULL;
    permission_check(); /* before there are threads */
    if (cfoil_context_open(NULL, &context) != CFOIL_OK)
        return 2;
    cycles_check(context, (int)strtol(arguments[3], NULL, 10));
    long_absence_check(context);
    busy_check(context);
    closing_check(context);
    cfoil_context_close(context);
    printf("1..%d\n", number);
    return failures == 0 ? 0 : 1;
}
