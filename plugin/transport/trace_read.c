/*
 * What does a trace file hold? A strict reader, one line at a time, for files that nobody vouches for. See trace.h.
 */
#include "transport/trace.h"

#include "model/error.h"
#include "model/text.h"
#include "transport/trace_words.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#define AREA           "trace"
#define LINE_MAX_COUNT INT32_MAX

struct trace_reader {
    const struct memory *memory;
    FILE *file;       /* or NULL: */
    const char *text; /* what is left of the text */
    size_t left;
    int32_t line_number;
    int32_t record_line;
    uint64_t time_us;
    struct trace_header header;
    char line[TRACE_LINE_MAX + 1];
    uint8_t bytes[TRACE_BYTES_MAX];
};

static int32_t bad(const struct trace_reader *reader, cfoil_error_info *error, const char *text)
{
    int32_t line = reader->line_number > 0 ? reader->line_number : 1; /* an empty file has no line */
    int32_t result = error_set(error, CFOIL_E_DATA_TRACE, 0, AREA, "Trace line %d: %s", (int)line, text);
    if (error != NULL)
        error->line = line;
    return result;
}

/* ---- Lines ---- */

static int byte_next(struct trace_reader *reader)
{
    if (reader->file != NULL)
        return fgetc(reader->file);
    if (reader->left == 0)
        return EOF;
    reader->left--;
    return (unsigned char)*reader->text++;
}

static int32_t end_of_file(const struct trace_reader *reader, size_t length, cfoil_error_info *error)
{
    if (reader->file != NULL && ferror(reader->file))
        return error_set(error, CFOIL_E_DATA_FILE, errno, AREA, "The trace file cannot be read.");
    if (length > 0)
        return bad(reader, error, "the last line is cut off: end it with a line feed or remove it.");
    return error_set(error, CFOIL_E_PORT_ENDED, 0, AREA, "The trace is at its end.");
}

/* The next line into reader->line, without its end. */
static int32_t line_next(struct trace_reader *reader, cfoil_error_info *error)
{
    if (reader->line_number == LINE_MAX_COUNT)
        return bad(reader, error, "there are too many lines.");
    size_t length = 0;
    reader->line_number++;
    for (;;) {
        int byte = byte_next(reader);
        if (byte == EOF) {
            int32_t result = end_of_file(reader, length, error);
            if (length == 0)
                reader->line_number--;
            return result;
        }
        if (byte == '\n')
            break;
        if (byte == '\0')
            return bad(reader, error, "a zero byte is in it: a trace is a text file.");
        if (length == TRACE_LINE_MAX)
            return bad(reader, error, "the line is longer than the format allows.");
        reader->line[length++] = (char)byte;
    }
    reader->line[length] = '\0';
    if (length > 0 && !text_acceptable(reader->line, 1, TRACE_LINE_MAX))
        return bad(reader, error, "only UTF-8 without control characters is allowed, with line feeds between lines.");
    return CFOIL_OK;
}

/* The next line that says something. */
static int32_t line_telling(struct trace_reader *reader, cfoil_error_info *error)
{
    int32_t result;
    do {
        result = line_next(reader, error);
    } while (result == CFOIL_OK && (reader->line[0] == '#' || reader->line[0] == '\0'));
    return result;
}

/* ---- Words ---- */

/* Cuts the first word off at a blank; *rest becomes NULL when nothing follows. Never NULL, but may be "". */
static char *word_take(char **rest)
{
    char *word = *rest;
    char *blank = strchr(word, ' ');
    *rest = blank != NULL ? blank + 1 : NULL;
    if (blank != NULL)
        *blank = '\0';
    return word;
}

/* Digits of a whole number up to `limit`, nothing else, no leading zeros. */
static bool number_parse(const char *text, uint64_t limit, uint64_t *number)
{
    if (text[0] == '\0' || (text[0] == '0' && text[1] != '\0'))
        return false;
    *number = 0;
    for (; *text != '\0'; text++) {
        if (*text < '0' || *text > '9')
            return false;
        uint64_t digit = (uint64_t)(*text - '0');
        if (*number > (limit - digit) / 10)
            return false;
        *number = *number * 10 + digit;
    }
    return true;
}

static int digit_value(char digit)
{
    static const char digits[] = "0123456789abcdef";
    char lower = digit >= 'A' && digit <= 'F' ? (char)(digit - 'A' + 'a') : digit;
    const char *place = lower != '\0' ? strchr(digits, lower) : NULL;
    return place != NULL ? (int)(place - digits) : -1;
}

/* Pairs of hexadecimal digits with one blank or nothing between them. */
static bool bytes_parse(struct trace_reader *reader, const char *text, uint32_t maximum, uint32_t *length)
{
    *length = 0;
    while (text != NULL && *text != '\0') {
        int high = digit_value(text[0]);
        int low = high >= 0 ? digit_value(text[1]) : -1;
        if (low < 0 || *length == maximum)
            return false;
        reader->bytes[(*length)++] = (uint8_t)(high * 16 + low);
        text += 2;
        if (*text == ' ' && *++text == '\0')
            return false;
    }
    return *length > 0;
}

/* ---- Records ---- */

static int32_t accept_parse(const struct trace_reader *reader, char *rest, int32_t *accept, cfoil_error_info *error)
{
    const struct trace_word *word = rest != NULL ? trace_word_find(trace_accepts, rest) : NULL;
    if (word == NULL)
        return bad(reader, error, "accept must be none, hold or all.");
    *accept = word->code;
    return CFOIL_OK;
}

static int32_t command_parse(const struct trace_reader *reader, char *rest, struct trace_record *record,
                             cfoil_error_info *error)
{
    const struct trace_word *word = rest != NULL ? trace_word_find(trace_commands, word_take(&rest)) : NULL;
    if (word == NULL)
        return bad(reader, error, "the command must be accept, stack, return, hold or quit.");
    record->command = word->code;
    if (word->code == CFOIL_COMMAND_ACCEPT)
        return accept_parse(reader, rest, &record->argument, error);
    if (word->code == CFOIL_COMMAND_HOLD) {
        uint64_t hold_ms;
        /* The limit of cfoil_note_hold(). */
        if (rest == NULL || !number_parse(rest, 600000, &hold_ms))
            return bad(reader, error, "hold needs a number of milliseconds, 0 to 600000.");
        record->argument = (int32_t)hold_ms;
        return CFOIL_OK;
    }
    return rest == NULL ? CFOIL_OK : bad(reader, error, "this command takes nothing after it.");
}

static int32_t memory_parse(struct trace_reader *reader, char *rest, struct trace_record *record,
                            cfoil_error_info *error)
{
    record->device = rest != NULL ? word_take(&rest) : "";
    if (!text_acceptable(record->device, 1, TRACE_DEVICE_MAX))
        return bad(reader, error, "memory needs the name of a device of 1 to 63 bytes.");
    if (rest != NULL && strcmp(rest, "none") == 0)
        return CFOIL_OK;
    if (!bytes_parse(reader, rest, TRACE_MEMORY_MAX, &record->length))
        return bad(reader, error, "memory needs 1 to 64 bytes in hexadecimal digits, or none.");
    return CFOIL_OK;
}

static int32_t details_parse(struct trace_reader *reader, char *rest, struct trace_record *record,
                             cfoil_error_info *error)
{
    const struct trace_word *word;
    switch (record->mark) {
    case TRACE_OPEN:
        return accept_parse(reader, rest, &record->argument, error);
    case TRACE_LOST:
        word = rest != NULL ? trace_word_find(trace_losses, rest) : NULL;
        if (word == NULL)
            return bad(reader, error, "lost must say gone or failed.");
        record->argument = word->code;
        return CFOIL_OK;
    case TRACE_TICK:
        return rest == NULL ? CFOIL_OK : bad(reader, error, "tick takes nothing after it.");
    case TRACE_COMMAND:
        return command_parse(reader, rest, record, error);
    case TRACE_MEMORY:
        return memory_parse(reader, rest, record, error);
    case TRACE_FROM:
    case TRACE_TO:
        break;
    }
    if (!bytes_parse(reader, rest, TRACE_BYTES_MAX, &record->length))
        return bad(reader, error, "from and to need 1 to 4096 bytes in hexadecimal digits.");
    return CFOIL_OK;
}

static int32_t record_parse(struct trace_reader *reader, struct trace_record *record, cfoil_error_info *error)
{
    char *rest = reader->line;
    if (!number_parse(word_take(&rest), INT64_MAX, &record->time_us))
        return bad(reader, error, "begin it with a time in microseconds, or with '#' for a comment.");
    if (record->time_us < reader->time_us)
        return bad(reader, error, "the time goes back.");
    const struct trace_word *mark = rest != NULL ? trace_word_find(trace_marks, word_take(&rest)) : NULL;
    if (mark == NULL)
        return bad(reader, error, "after the time must come open, lost, tick, from, to, do or memory.");
    record->mark = (enum trace_mark)mark->code;
    record->bytes = reader->bytes;
    reader->time_us = record->time_us;
    return details_parse(reader, rest, record, error);
}

int32_t trace_read(struct trace_reader *reader, struct trace_record *record, cfoil_error_info *error)
{
    memset(record, 0, sizeof *record);
    int32_t result = line_telling(reader, error);
    reader->record_line = reader->line_number;
    return result == CFOIL_OK ? record_parse(reader, record, error) : result;
}

int32_t trace_reader_line(const struct trace_reader *reader)
{
    return reader->record_line;
}

const struct trace_header *trace_reader_header(const struct trace_reader *reader)
{
    return &reader->header;
}

/* ---- Header ---- */

/* The next line must be "KEY VALUE"; *value points at the rest of it, or is NULL when another key is there. */
static int32_t header_next(struct trace_reader *reader, cfoil_error_info *error)
{
    int32_t result = line_telling(reader, error);
    if (result == CFOIL_E_PORT_ENDED)
        return bad(reader, error, "the header is not whole: adapter, settings, accept and origin belong there.");
    return result;
}

static char *header_value(struct trace_reader *reader, const char *key)
{
    size_t length = strlen(key);
    if (strncmp(reader->line, key, length) != 0 || reader->line[length] != ' ')
        return NULL;
    return reader->line + length + 1;
}

static bool adapter_id_valid(const char *id)
{
    size_t length = strspn(id, "abcdefghijklmnopqrstuvwxyz0123456789-");
    return length >= 1 && length <= 16 && id[length] == '\0';
}

static int32_t settings_read(struct trace_reader *reader, cfoil_error_info *error)
{
    const char *value = header_value(reader, "settings");
    if (value == NULL)
        return CFOIL_OK; /* the line is optional: it is the next key's */
    if (!text_acceptable(value, 1, TRACE_SETTINGS_MAX))
        return bad(reader, error, "the settings must be 1 to 512 bytes long.");
    text_copy(reader->header.settings, sizeof reader->header.settings, value);
    return header_next(reader, error);
}

static int32_t adapter_read(struct trace_reader *reader, cfoil_error_info *error)
{
    int32_t result = header_next(reader, error);
    if (result != CFOIL_OK)
        return result;
    const char *value = header_value(reader, "adapter");
    if (value == NULL || !adapter_id_valid(value))
        return bad(reader, error, "here must stand: adapter and its id, 1 to 16 of a-z, 0-9 and '-'.");
    text_copy(reader->header.adapter, sizeof reader->header.adapter, value);
    return header_next(reader, error);
}

static int32_t origin_read(struct trace_reader *reader, cfoil_error_info *error)
{
    int32_t result = header_next(reader, error);
    if (result != CFOIL_OK)
        return result;
    const char *value = header_value(reader, "origin");
    const struct trace_word *word = value != NULL ? trace_word_find(trace_origins, value) : NULL;
    if (word == NULL)
        return bad(reader, error, "here must stand: origin synthetic, or origin captured.");
    reader->header.captured = word->code != 0;
    return CFOIL_OK;
}

static int32_t header_read(struct trace_reader *reader, cfoil_error_info *error)
{
    int32_t result = line_next(reader, error);
    if (result == CFOIL_E_PORT_ENDED)
        return bad(reader, error, "the file is empty.");
    if (result != CFOIL_OK)
        return result;
    if (strcmp(reader->line, "counterfoil-trace 1") != 0)
        return bad(reader, error, "a trace begins with: counterfoil-trace 1");
    result = adapter_read(reader, error);
    if (result == CFOIL_OK)
        result = settings_read(reader, error);
    if (result != CFOIL_OK)
        return result;
    char *value = header_value(reader, "accept");
    if (value == NULL)
        return bad(reader, error, "here must stand: accept none, accept hold, or accept all.");
    result = accept_parse(reader, value, &reader->header.accept, error);
    return result == CFOIL_OK ? origin_read(reader, error) : result;
}

/* ---- Opening ---- */

static int32_t reader_begin(struct trace_reader *made, struct trace_reader **reader, cfoil_error_info *error)
{
    int32_t result = header_read(made, error);
    if (result == CFOIL_OK)
        *reader = made;
    else
        trace_reader_close(made);
    return result;
}

static struct trace_reader *reader_make(const struct memory *memory)
{
    struct trace_reader *made = memory_allocate(memory, sizeof *made);
    if (made != NULL)
        made->memory = memory;
    return made;
}

static int32_t file_failure(cfoil_error_info *error, int os_code, const char *path)
{
    char shown[161];
    text_copy(shown, sizeof shown, path); /* cut between characters */
    return error_set(error, CFOIL_E_DATA_FILE, os_code, AREA, "%s: %s", shown,
                     os_code == ENOENT ? "there is no such trace file; check the name."
                                       : "the trace cannot be read; name a plain file that may be read.");
}

int32_t trace_reader_open(const struct memory *memory, const char *path, struct trace_reader **reader,
                          cfoil_error_info *error)
{
    *reader = NULL;
    /* Only plain files: opening a pipe could wait for ever. */
    struct stat status;
    if (stat(path, &status) != 0)
        return file_failure(error, errno, path);
    if (!S_ISREG(status.st_mode))
        return file_failure(error, 0, path);
    struct trace_reader *made = reader_make(memory);
    if (made == NULL)
        return error_memory_set(error, AREA);
    made->file = fopen(path, "rb");
    if (made->file == NULL) {
        int os_code = errno;
        trace_reader_close(made);
        return file_failure(error, os_code, path);
    }
    return reader_begin(made, reader, error);
}

int32_t trace_reader_open_text(const struct memory *memory, const char *text, size_t length,
                               struct trace_reader **reader, cfoil_error_info *error)
{
    *reader = NULL;
    struct trace_reader *made = reader_make(memory);
    if (made == NULL)
        return error_memory_set(error, AREA);
    made->text = text;
    made->left = length;
    return reader_begin(made, reader, error);
}

void trace_reader_close(struct trace_reader *reader)
{
    if (reader == NULL)
        return;
    if (reader->file != NULL)
        (void)fclose(reader->file);
    memory_release(reader->memory, reader);
}
