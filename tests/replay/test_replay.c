/*
 * Does each recorded trace, played to the bare adapter, bring the same bytes out and tell what stands beside it? Three
 * ways: whole records, one byte (or word) at a time, and cut at random.
 *   test_replay FOLDER            plays every *.trace there and compares with *.expect; a trace with the comment
 *                                 "# played whole only" is played in that way alone
 *   test_replay --write TRACE     prints what TRACE tells, for tests/replay/record.sh
 */
#include "cctalk/cctalk.h"
#include "described/described.h"
#include "mdb/mdb.h"
#include "model/names.h"
#include "packs/description.h"
#include "pulse/pulse.h"
#include "transport/trace.h"

#include <dirent.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_MAX = 65536, TRACES_MAX = 256, SEEDS = 8, TRACES_LEAST = 30, TRACE_SIZE_MAX = 8192, DESCRIPTIONS_MAX = 8 };

struct told {
    char text[TEXT_MAX];
    size_t length;
    char state[256]; /* the last one: telling it again is harmless */
};

static const cfoil_adapter *const adapters[] = {&cctalk_adapter, &mdb_adapter, &pulse_adapter};

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void
put(struct told *told, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(told->text + told->length, sizeof told->text - told->length, format, arguments);
    va_end(arguments);
    if (length > 0 && told->length + (size_t)length < sizeof told->text)
        told->length += (size_t)length;
}

static void put_text(struct told *told, const char *key, const char *text)
{
    if (text[0] == '\0')
        return;
    put(told, ",\"%s\":\"", key);
    for (; *text != '\0'; text++) {
        if (*text == '"' || *text == '\\')
            put(told, "\\");
        put(told, "%c", *text);
    }
    put(told, "\"");
}

static void on_event(void *user, const cfoil_adapter_event *event, uint64_t now_us)
{
    struct told *told = user;
    (void)now_us;
    put(told, "{\"kind\":\"%s\"", name_kind(event->kind));
    if (event->note_type != 0)
        put(told, ",\"note_type\":%d", (int)event->note_type);
    if (event->currency[0] != '\0')
        put(told, ",\"value_minor\":%lld", (long long)event->value_minor);
    put_text(told, "currency", event->currency);
    put_text(told, "note_name", event->note_name);
    if (event->reason != 0)
        put(told, ",\"reason\":\"%s\"", name_reason(event->reason));
    if (event->condition != 0)
        put(told, ",\"condition\":\"%s\"", name_condition(event->condition));
    if (event->lost_count != 0)
        put(told, ",\"lost_count\":%u", (unsigned)event->lost_count);
    if ((event->flags & CFOIL_EVENT_WHILE_AWAY) != 0)
        put(told, ",\"while_away\":true");
    put_text(told, "raw_text", event->raw_text);
    put(told, "}\n");
}

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text, uint64_t now_us)
{
    struct told *told = user;
    char line[sizeof told->state];
    (void)text;
    (void)now_us;
    snprintf(line, sizeof line, "{\"kind\":\"lane_state\",\"state\":\"%s\",\"result\":%d}\n",
             name_lane_state(lane_state), (int)result);
    if (strcmp(line, told->state) == 0)
        return;
    memcpy(told->state, line, sizeof line);
    put(told, "%s", line);
}

/* An id that no adapter has is that of a description; it is loaded once, and stays. */
static const cfoil_adapter *described_find(const char *id)
{
    static cfoil_adapter made[DESCRIPTIONS_MAX];
    static size_t count;
    for (size_t i = 0; i < count; i++) {
        if (strcmp(made[i].id, id) == 0)
            return &made[i];
    }
    char path[512];
    struct description *description;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    snprintf(path, sizeof path, DESCRIPTIONS "/%s.json", id);
    if (count == DESCRIPTIONS_MAX || description_load(&memory_heap, path, &description, &error) != CFOIL_OK) {
        fprintf(stderr, "%s: %s\n", path, error.text);
        return NULL;
    }
    described_adapter_make(description, &made[count]);
    return &made[count++];
}

static const cfoil_adapter *adapter_find(const char *id)
{
    for (size_t i = 0; i < sizeof adapters / sizeof adapters[0]; i++) {
        if (strcmp(adapters[i]->id, id) == 0)
            return adapters[i];
    }
    return described_find(id);
}

/* False, with a line on stderr, when the trace is bad or the adapter departs from it. */
static bool play(const char *path, enum trace_chunking chunking, uint64_t seed, struct told *told)
{
    struct trace_listener listener = {.user = told, .event = on_event, .state = on_state};
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct trace_reader *reader = NULL;
    memset(told, 0, sizeof *told);
    int32_t result = trace_reader_open(&memory_heap, path, &reader, &error);
    const cfoil_adapter *adapter = result == CFOIL_OK ? adapter_find(trace_reader_header(reader)->adapter) : NULL;
    if (result == CFOIL_OK && adapter == NULL) {
        trace_reader_close(reader);
        fprintf(stderr, "%s: no such adapter\n", path);
        return false;
    }
    if (result == CFOIL_OK)
        result = trace_replay(&memory_heap, adapter, reader, chunking, seed, &listener, &error);
    if (result != CFOIL_OK)
        fprintf(stderr, "%s: line %d: %s\n", path, (int)error.line, error.text);
    return result == CFOIL_OK;
}

static bool file_read(const char *path, char *text, size_t capacity)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        fprintf(stderr, "%s: cannot be read\n", path);
        return false;
    }
    size_t length = fread(text, 1, capacity - 1, file);
    fclose(file);
    text[length] = '\0';
    return true;
}

/* The first line that differs. */
static void difference_print(const char *path, const char *told, const char *wanted, const char *how)
{
    int line = 1;
    while (*told != '\0' && *told == *wanted) {
        line += *told == '\n';
        told++;
        wanted++;
    }
    fprintf(stderr, "%s: played %s, line %d differs\n  told   ...%.120s\n  wanted ...%.120s\n", path, how, line, told,
            wanted);
}

static bool trace_check(const char *folder, const char *name)
{
    static struct told told;
    static char wanted[TEXT_MAX];
    static char whole[TRACE_SIZE_MAX + 2];
    char trace[512];
    char expect[512];
    bool good = true;
    snprintf(trace, sizeof trace, "%s/%s", folder, name);
    snprintf(expect, sizeof expect, "%s/%.*s.expect", folder, (int)(strlen(name) - strlen(".trace")), name);
    if (!file_read(expect, wanted, sizeof wanted) || !file_read(trace, whole, sizeof whole))
        return false;
    if (strlen(whole) > TRACE_SIZE_MAX) {
        fprintf(stderr, "%s: larger than %d bytes\n", trace, TRACE_SIZE_MAX);
        return false;
    }
    /* Two answers in one read may be doubted, where one after the other the first is simply taken. */
    uint64_t plays = strstr(whole, "\n# played whole only") != NULL ? 1 : 2 + SEEDS;
    for (uint64_t seed = 0; seed < plays && good; seed++) {
        enum trace_chunking chunking = seed == 0 ? TRACE_WHOLE : seed == 1 ? TRACE_SINGLE : TRACE_RANDOM;
        static const char *const ways[] = {"whole", "in single bytes", "cut at random"};
        good = play(trace, chunking, seed, &told);
        if (good && strcmp(told.text, wanted) != 0) {
            difference_print(trace, told.text, wanted, ways[chunking]);
            good = false;
        }
    }
    return good;
}

static int folder_check(const char *folder)
{
    int count = 0;
    int bad = 0;
    DIR *directory = opendir(folder);
    for (struct dirent *item; directory != NULL && (item = readdir(directory)) != NULL;) {
        size_t length = strlen(item->d_name);
        if (length <= 6 || strcmp(item->d_name + length - 6, ".trace") != 0)
            continue;
        count++;
        bad += !trace_check(folder, item->d_name);
    }
    if (directory != NULL)
        closedir(directory);
    printf("%d traces, %d bad\n", count, bad);
    return bad > 0 || count < TRACES_LEAST;
}

int main(int count, char **arguments)
{
    static struct told told;
    if (count == 3 && strcmp(arguments[1], "--write") == 0) {
        if (!play(arguments[2], TRACE_WHOLE, 0, &told))
            return 1;
        fputs(told.text, stdout);
        return 0;
    }
    if (count != 2) {
        fprintf(stderr, "usage: %s FOLDER, or --write TRACE\n", arguments[0]);
        return 2;
    }
    return folder_check(arguments[1]);
}
