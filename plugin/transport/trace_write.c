/*
 * How is a trace written so that it is whole up to the moment a program ends? One line, one flush. See trace.h.
 */
#include "transport/trace.h"

#include "model/error.h"
#include "model/text.h"
#include "transport/trace_words.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define AREA "trace"

/* "x": never an existing file (C11 7.21.5.3). "e": not inherited by programs that the host starts (POSIX.1-2024). */
#if defined(_WIN32)
#define OPEN_MODE "wbx"
#else
#define OPEN_MODE "wbxe"
#endif

struct trace_writer {
    const struct memory *memory;
    FILE *file;
    size_t length;
    char line[TRACE_LINE_MAX + 2]; /* with line end and ending byte */
};

static int32_t write_failure(cfoil_error_info *error, int os_code)
{
    return error_set(error, CFOIL_E_DATA_FILE, os_code, AREA, "The trace cannot be written: make room on the disk.");
}

static int32_t line_flush(struct trace_writer *writer, cfoil_error_info *error)
{
    writer->line[writer->length++] = '\n';
    bool good = fwrite(writer->line, 1, writer->length, writer->file) == writer->length && fflush(writer->file) == 0;
    writer->length = 0;
    return good ? CFOIL_OK : write_failure(error, errno);
}

/* Every record's size was checked before: what is put always fits. */
static void text_put(struct trace_writer *writer, const char *text)
{
    text_copy(writer->line + writer->length, sizeof writer->line - writer->length, text);
    writer->length += strlen(writer->line + writer->length);
}

static void word_put(struct trace_writer *writer, const char *text)
{
    if (writer->length > 0)
        text_put(writer, " ");
    text_put(writer, text);
}

static void bytes_put(struct trace_writer *writer, const uint8_t *bytes, uint32_t length)
{
    for (uint32_t i = 0; i < length; i++) {
        char pair[3];
        text_hex(bytes + i, 1, pair);
        word_put(writer, pair);
    }
}

static void argument_put(struct trace_writer *writer, const struct trace_record *record)
{
    if (record->command == CFOIL_COMMAND_ACCEPT)
        word_put(writer, trace_word_of(trace_accepts, record->argument));
    if (record->command == CFOIL_COMMAND_HOLD) {
        char digits[16];
        (void)snprintf(digits, sizeof digits, "%" PRId32, record->argument);
        word_put(writer, digits);
    }
}

static bool command_writable(const struct trace_record *record)
{
    if (trace_word_of(trace_commands, record->command) == NULL)
        return false;
    if (record->command == CFOIL_COMMAND_ACCEPT)
        return trace_word_of(trace_accepts, record->argument) != NULL;
    return record->command != CFOIL_COMMAND_HOLD || record->argument >= 0;
}

static bool device_writable(const char *device)
{
    size_t length = device != NULL ? strnlen(device, TRACE_DEVICE_MAX + 1) : 0;
    for (size_t i = 0; i < length; i++) {
        if (device[i] <= ' ' || device[i] > '~')
            return false;
    }
    return length >= 1 && length <= TRACE_DEVICE_MAX;
}

static bool writable(const struct trace_record *record)
{
    switch (record->mark) {
    case TRACE_OPEN:
        return trace_word_of(trace_accepts, record->argument) != NULL;
    case TRACE_LOST:
        return trace_word_of(trace_losses, record->argument) != NULL;
    case TRACE_TICK:
        return true;
    case TRACE_FROM:
    case TRACE_TO:
        return record->length >= 1 && record->length <= TRACE_BYTES_MAX;
    case TRACE_COMMAND:
        return command_writable(record);
    case TRACE_MEMORY:
        return record->length <= TRACE_MEMORY_MAX && device_writable(record->device);
    }
    return false;
}

static void record_put(struct trace_writer *writer, const struct trace_record *record)
{
    char digits[24];
    (void)snprintf(digits, sizeof digits, "%" PRIu64, record->time_us);
    word_put(writer, digits);
    word_put(writer, trace_word_of(trace_marks, (int32_t)record->mark));
    if (record->mark == TRACE_OPEN)
        word_put(writer, trace_word_of(trace_accepts, record->argument));
    if (record->mark == TRACE_LOST)
        word_put(writer, trace_word_of(trace_losses, record->argument));
    if (record->mark == TRACE_COMMAND) {
        word_put(writer, trace_word_of(trace_commands, record->command));
        argument_put(writer, record);
    }
    if (record->mark == TRACE_MEMORY) {
        word_put(writer, record->device);
        if (record->length == 0)
            word_put(writer, "none");
    }
    if (record->mark == TRACE_FROM || record->mark == TRACE_TO || record->mark == TRACE_MEMORY)
        bytes_put(writer, record->bytes, record->length);
}

int32_t trace_write(struct trace_writer *writer, const struct trace_record *record, cfoil_error_info *error)
{
    if (!writable(record))
        return error_set(error, CFOIL_E_DATA_SIZE, 0, AREA, "A record does not fit the trace format.");
    record_put(writer, record);
    return line_flush(writer, error);
}

static int32_t header_line(struct trace_writer *writer, const char *key, const char *value, cfoil_error_info *error)
{
    word_put(writer, key);
    word_put(writer, value);
    return line_flush(writer, error);
}

static int32_t header_write(struct trace_writer *writer, const struct trace_header *header, cfoil_error_info *error)
{
    int32_t result = header_line(writer, "counterfoil-trace", "1", error);
    if (result == CFOIL_OK)
        result = header_line(writer, "adapter", header->adapter, error);
    if (result == CFOIL_OK && header->settings[0] != '\0')
        result = header_line(writer, "settings", header->settings, error);
    if (result == CFOIL_OK)
        result = header_line(writer, "accept", trace_word_of(trace_accepts, header->accept), error);
    if (result == CFOIL_OK)
        result = header_line(writer, "origin", trace_word_of(trace_origins, header->captured), error);
    return result;
}

static int32_t open_failure(cfoil_error_info *error, int os_code, const char *path)
{
    char shown[161];
    text_copy(shown, sizeof shown, path); /* cut between characters */
    return error_set(error, CFOIL_E_DATA_FILE, os_code, AREA, "%s: %s", shown,
                     os_code == EEXIST ? "the trace file exists already; name a new one."
                                       : "the trace file cannot be made; check the folder and its permissions.");
}

int32_t trace_writer_open(const struct memory *memory, const char *path, const struct trace_header *header,
                          struct trace_writer **writer, cfoil_error_info *error)
{
    *writer = NULL;
    if (trace_word_of(trace_accepts, header->accept) == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "A trace cannot say that accept value.");
    struct trace_writer *made = memory_allocate(memory, sizeof *made);
    if (made == NULL)
        return error_memory_set(error, AREA);
    made->memory = memory;
    made->file = fopen(path, OPEN_MODE);
    if (made->file == NULL) {
        int os_code = errno;
        memory_release(memory, made);
        return open_failure(error, os_code, path);
    }
    int32_t result = header_write(made, header, error);
    if (result != CFOIL_OK) {
        trace_writer_close(made);
        return result;
    }
    *writer = made;
    return CFOIL_OK;
}

void trace_writer_close(struct trace_writer *writer)
{
    if (writer == NULL)
        return;
    (void)fclose(writer->file); /* everything was flushed line by line */
    memory_release(writer->memory, writer);
}
