/*
 * How do bytes reach the device and the journal? See line.h.
 */
#include "line.h"

#include "os/os.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { OPEN_MS = 5000, DRAIN_US = 30000, DRAIN_LIMIT_US = 1000000, PIECE = 512 };

struct entry {
    enum trace_mark mark;
    uint64_t time_us;
    size_t offset;
    uint32_t length;
};

struct line {
    struct transport *transport; /* NULL = replay */
    bool serial;
    bool states; /* modem-control lines: each byte is the state of all */
    uint8_t state;
    bool state_known, state_due; /* due: the case has not received the present state */
    const char *trace_path;
    struct trace_reader *reader;
    struct trace_record next;
    bool next_there;
    uint64_t start_us;
    uint64_t now_us;
    bool gone;
    char why[320];
    struct entry *entries;
    size_t entry_count, entry_room;
    uint8_t *bytes;
    size_t byte_count, byte_room;
};

bool line_protocol(const char *adapter, enum transport_way *way, cfoil_line *settings)
{
    static const struct {
        const char *adapter;
        enum transport_way way;
    } known[] = {{"cctalk", WAY_BYTES}, {"described", WAY_BYTES}, {"mdb", WAY_WORDS_FRAMED}, {"pulse", WAY_LINES}};
    /* 9600 baud, 8 data bits, no parity, 1 stop bit: ccTalk Generic Specification part 1. MDB has a ninth bit, which the
     * word carrier keeps; its own line is a plain one. A pulse device uses no characters. */
    *settings = (cfoil_line){9600, 8, 1, CFOIL_PARITY_NONE};
    *way = WAY_BYTES;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (strcmp(adapter, known[i].adapter) != 0)
            continue;
        *way = known[i].way;
        return true;
    }
    return false;
}

int32_t line_open(const char *port, const char *adapter, const cfoil_line *settings, struct line **line,
                  cfoil_error_info *error)
{
    enum transport_way way;
    cfoil_line usual;
    (void)line_protocol(adapter, &way, &usual);
    *line = calloc(1, sizeof **line);
    if (*line == NULL)
        return CFOIL_E_MEMORY;
    (*line)->states = way == WAY_LINES;
    (*line)->serial = strncmp(port, "serial:", 7) == 0;
    int32_t result = CFOIL_OK;
    if (strncmp(port, "trace:", 6) == 0)
        (*line)->trace_path = port + 6;
    else
        result = transport_open(&memory_heap, port, way, settings != NULL ? settings : &usual, OPEN_MS, NULL,
                                &(*line)->transport, error);
    if (result == CFOIL_OK)
        return CFOIL_OK;
    line_close(*line);
    *line = NULL;
    return result;
}

void line_close(struct line *line)
{
    if (line == NULL)
        return;
    transport_close(line->transport);
    trace_reader_close(line->reader);
    free(line->entries);
    free(line->bytes);
    free(line);
}

static void line_end(struct line *line, const char *why)
{
    if (!line->gone)
        snprintf(line->why, sizeof line->why, "%s", why);
    line->gone = true;
}

/* A journal that cannot grow ends the case: it could not be repeated. */
static void journal_put(struct line *line, enum trace_mark mark, const uint8_t *bytes, uint32_t length)
{
    if (line->entry_count == line->entry_room) {
        size_t room = line->entry_room == 0 ? 256 : 2 * line->entry_room;
        struct entry *entries = realloc(line->entries, room * sizeof *entries);
        if (entries == NULL) {
            line_end(line, "there is no memory for the journal");
            return;
        }
        line->entries = entries;
        line->entry_room = room;
    }
    if (line->byte_count + length > line->byte_room) {
        size_t room = 2 * (line->byte_room + length) + 1024;
        uint8_t *grown = realloc(line->bytes, room);
        if (grown == NULL) {
            line_end(line, "there is no memory for the journal");
            return;
        }
        line->bytes = grown;
        line->byte_room = room;
    }
    if (length > 0)
        memcpy(line->bytes + line->byte_count, bytes, length);
    line->entries[line->entry_count++] = (struct entry){mark, line->now_us, line->byte_count, length};
    line->byte_count += length;
}

/* ---- Replay ---- */

static void trace_advance(struct line *line)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = trace_read(line->reader, &line->next, &error);
    line->next_there = result == CFOIL_OK;
    if (!line->next_there)
        line_end(line, result == CFOIL_E_PORT_ENDED ? "the trace is at its end" : error.text);
}

static void trace_depart(struct line *line)
{
    char text[96];
    snprintf(text, sizeof text, "the case departs from the trace at its line %" PRId32,
             trace_reader_line(line->reader));
    line_end(line, text);
}

/* The record that comes next if it is of that mark; time goes on to it. */
static bool trace_take(struct line *line, enum trace_mark mark)
{
    if (!line->next_there)
        trace_advance(line);
    if (line->gone || line->next.mark != mark)
        return false;
    line->next_there = false;
    line->now_us = line->next.time_us;
    return true;
}

static bool trace_send(struct line *line, const uint8_t *bytes, uint32_t length)
{
    if (trace_take(line, TRACE_TO) && line->next.length == length && memcmp(line->next.bytes, bytes, length) == 0)
        return true;
    if (!line->gone)
        trace_depart(line);
    return false;
}

static uint32_t trace_receive(struct line *line, uint8_t *bytes, uint32_t capacity)
{
    if (trace_take(line, TRACE_FROM) && line->next.length <= capacity) {
        memcpy(bytes, line->next.bytes, line->next.length);
        return line->next.length;
    }
    if (!line->gone && !trace_take(line, TRACE_TICK))
        trace_depart(line);
    return 0;
}

static bool trace_begin(struct line *line)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    trace_reader_close(line->reader);
    line->reader = NULL;
    line->next_there = false;
    if (trace_reader_open(&memory_heap, line->trace_path, &line->reader, &error) == CFOIL_OK)
        return true;
    line_end(line, error.text);
    return false;
}

const char *line_trace_settings(const struct line *line)
{
    return line->reader != NULL ? trace_reader_header(line->reader)->settings : "";
}

/* ---- The port ---- */

static void state_keep(struct line *line, const uint8_t *bytes, uint32_t length)
{
    if (!line->states || length == 0)
        return;
    line->state = bytes[length - 1];
    line->state_known = true;
}

/* What is left of the case before must not be taken for an answer. */
static void port_drain(struct line *line)
{
    uint8_t bytes[PIECE];
    uint64_t limit_us = os_monotonic_us() + DRAIN_LIMIT_US;
    while (os_monotonic_us() < limit_us) {
        uint32_t length;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        if (transport_read(line->transport, bytes, sizeof bytes, &length, &error) != CFOIL_OK) {
            line_end(line, error.text);
            return;
        }
        state_keep(line, bytes, length);
        if (length == 0 && os_wait(transport_handle(line->transport), NULL, os_monotonic_us() + DRAIN_US) == 0 &&
            !transport_busy(line->transport))
            return;
    }
}

bool line_begin(struct line *line)
{
    line->entry_count = 0;
    line->byte_count = 0;
    line->now_us = 0;
    if (line->trace_path != NULL) {
        line->gone = false;
        return trace_begin(line);
    }
    if (!line->gone)
        port_drain(line);
    line->state_due = line->state_known;
    line->start_us = os_monotonic_us();
    return !line->gone;
}

static void clock_read(struct line *line)
{
    line->now_us = os_monotonic_us() - line->start_us;
}

bool line_send(struct line *line, const uint8_t *bytes, uint32_t length)
{
    if (line->gone)
        return false;
    if (line->trace_path != NULL) {
        bool good = trace_send(line, bytes, length);
        journal_put(line, TRACE_TO, bytes, length);
        return good;
    }
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = transport_write(line->transport, bytes, length, &error);
    clock_read(line);
    if (result != CFOIL_OK)
        line_end(line, error.text);
    else
        journal_put(line, TRACE_TO, bytes, length);
    return result == CFOIL_OK;
}

static void port_wait(const struct line *line, uint64_t until_us)
{
    uint64_t look_us = os_monotonic_us() + MS(250); /* a key may be pressed while nothing comes */
    uint64_t due_us = transport_deadline(line->transport);
    look_us = look_us < until_us ? look_us : until_us;
    os_wait(transport_handle(line->transport), NULL, due_us < look_us ? due_us : look_us);
}

static uint32_t port_receive(struct line *line, uint64_t until_us, uint8_t *bytes, uint32_t capacity)
{
    uint64_t until = line->start_us + until_us;
    if (line->state_due && capacity > 0) {
        line->state_due = false;
        bytes[0] = line->state;
        return 1;
    }
    for (;;) {
        uint32_t length;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        if (transport_read(line->transport, bytes, capacity, &length, &error) != CFOIL_OK) {
            line_end(line, error.text);
            return 0;
        }
        clock_read(line);
        state_keep(line, bytes, length);
        if (length > 0)
            return length;
        if (stop_asked())
            line_end(line, "it was stopped");
        if (line->gone || os_monotonic_us() >= until)
            return 0;
        port_wait(line, until);
    }
}

uint32_t line_receive(struct line *line, uint64_t until_us, uint8_t *bytes, uint32_t capacity)
{
    if (line->gone)
        return 0;
    uint32_t length = line->trace_path != NULL ? trace_receive(line, bytes, capacity)
                                               : port_receive(line, until_us, bytes, capacity);
    if (!line->gone)
        journal_put(line, length > 0 ? TRACE_FROM : TRACE_TICK, bytes, length);
    return length;
}

uint64_t line_now_us(const struct line *line)
{
    return line->now_us;
}

bool line_serial(const struct line *line)
{
    return line->serial;
}

const char *line_gone(const struct line *line)
{
    return line->gone ? line->why : NULL;
}

/* ---- Journal ---- */

uint32_t line_journal_count(const struct line *line)
{
    return (uint32_t)line->entry_count;
}

void line_journal_print(const struct line *line, uint32_t count, const char *indent, FILE *file)
{
    size_t first = line->entry_count > count ? line->entry_count - count : 0;
    for (size_t i = first; i < line->entry_count; i++) {
        const struct entry *entry = &line->entries[i];
        char text[3 * 80 + 8];
        hex_text(line->bytes + entry->offset, entry->length, text, sizeof text);
        if (entry->mark != TRACE_TICK)
            fprintf(file, "%s%10.3f ms %s %s\n", indent, (double)entry->time_us / 1000,
                    entry->mark == TRACE_TO ? "sent    " : "received", text);
    }
}

int32_t line_journal_save(const struct line *line, const char *path, const char *adapter, const char *settings,
                          cfoil_error_info *error)
{
    struct trace_header header = {.accept = CFOIL_ACCEPT_NONE, .captured = true};
    snprintf(header.adapter, sizeof header.adapter, "%s", adapter);
    snprintf(header.settings, sizeof header.settings, "%s", settings);
    struct trace_writer *writer;
    unlink(path);
    int32_t result = trace_writer_open(&memory_heap, path, &header, &writer, error);
    if (result != CFOIL_OK)
        return result;
    for (size_t i = 0; i < line->entry_count && result == CFOIL_OK; i++) {
        const struct entry *entry = &line->entries[i];
        struct trace_record record = {.mark = entry->mark,
                                      .time_us = entry->time_us,
                                      .bytes = line->bytes + entry->offset,
                                      .length = entry->length};
        result = trace_write(writer, &record, error);
    }
    trace_writer_close(writer);
    return result;
}
