/* What truly happened inside the device? Writes the facts as JSON lines; no text here ever needs an escape. */
#include "truth.h"

#include <inttypes.h>

const char *outcome_name(enum outcome outcome)
{
    static const char *const names[] = {"none",     "stacked", "stacked_unknown", "returned",
                                        "rejected", "pulled",  "jammed",          "not_taken"};
    return names[outcome];
}

void truth_begin(const struct truth *truth, int64_t now_ms, const char *word)
{
    if (truth->stream != NULL)
        fprintf(truth->stream, "{\"time_ms\":%" PRId64 ",\"truth\":\"%s\"", now_ms, word);
}

void truth_number(const struct truth *truth, const char *name, long value)
{
    if (truth->stream != NULL)
        fprintf(truth->stream, ",\"%s\":%ld", name, value);
}

void truth_text(const struct truth *truth, const char *name, const char *text)
{
    if (truth->stream != NULL)
        fprintf(truth->stream, ",\"%s\":\"%s\"", name, text);
}

void truth_bytes(const struct truth *truth, const char *name, const uint8_t *bytes, size_t count)
{
    if (truth->stream == NULL)
        return;
    fprintf(truth->stream, ",\"%s\":[", name);
    for (size_t i = 0; i < count; i++)
        fprintf(truth->stream, i == 0 ? "%d" : ",%d", bytes[i]);
    fputc(']', truth->stream);
}

void truth_end(const struct truth *truth)
{
    if (truth->stream == NULL)
        return;
    fputs("}\n", truth->stream);
    fflush(truth->stream);
}

void truth_say(const struct truth *truth, int64_t now_ms, const char *word, const char *name, long value)
{
    truth_begin(truth, now_ms, word);
    if (name != NULL)
        truth_number(truth, name, value);
    truth_end(truth);
}
