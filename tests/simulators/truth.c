/* What truly happened inside the device? Writes the facts as JSON lines; no text here ever needs an escape. */
#include "truth.h"

#include <inttypes.h>

void truth_say(const struct truth *truth, int64_t now_ms, const char *word, const char *name, long value)
{
    if (truth->stream == NULL)
        return;
    fprintf(truth->stream, "{\"time_ms\":%" PRId64 ",\"truth\":\"%s\"", now_ms, word);
    if (name != NULL)
        fprintf(truth->stream, ",\"%s\":%ld", name, value);
    fputs("}\n", truth->stream);
    fflush(truth->stream);
}

void truth_note(const struct truth *truth, int64_t now_ms, const char *word, const struct truth_note *note,
                const int event[2], unsigned counter)
{
    if (truth->stream == NULL)
        return;
    fprintf(truth->stream, "{\"time_ms\":%" PRId64 ",\"truth\":\"%s\",\"note\":%ld,\"type\":%ld,\"id\":\"%s\"", now_ms,
            word, note->number, note->type, note->id);
    if (event[0] >= 0)
        fprintf(truth->stream, ",\"event\":[%d,%d]", event[0], event[1]);
    fprintf(truth->stream, ",\"counter\":%u}\n", counter);
    fflush(truth->stream);
}

void truth_event(const struct truth *truth, int64_t now_ms, const int event[2], unsigned counter)
{
    if (truth->stream == NULL)
        return;
    fprintf(truth->stream, "{\"time_ms\":%" PRId64 ",\"truth\":\"event\",\"event\":[%d,%d],\"counter\":%u}\n", now_ms,
            event[0], event[1], counter);
    fflush(truth->stream);
}

void truth_fault(const struct truth *truth, int64_t now_ms, const char *kind, int header)
{
    if (truth->stream == NULL)
        return;
    fprintf(truth->stream, "{\"time_ms\":%" PRId64 ",\"truth\":\"fault\",\"kind\":\"%s\",\"header\":%d}\n", now_ms,
            kind, header);
    fflush(truth->stream);
}
