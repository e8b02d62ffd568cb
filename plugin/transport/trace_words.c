/*
 * Which words does a trace use? See trace_words.h and docs/traces.md.
 */
#include "transport/trace_words.h"

#include "transport/trace.h"

#include <string.h>

const struct trace_word trace_marks[] = {
    {"open", TRACE_OPEN}, {"lost", TRACE_LOST},  {"tick", TRACE_TICK},     {"from", TRACE_FROM},
    {"to", TRACE_TO},     {"do", TRACE_COMMAND}, {"memory", TRACE_MEMORY}, {NULL, 0}};

const struct trace_word trace_commands[] = {{"accept", CFOIL_COMMAND_ACCEPT}, {"stack", CFOIL_COMMAND_STACK},
                                            {"return", CFOIL_COMMAND_RETURN}, {"hold", CFOIL_COMMAND_HOLD},
                                            {"quit", CFOIL_COMMAND_QUIT},     {NULL, 0}};

const struct trace_word trace_accepts[] = {
    {"none", CFOIL_ACCEPT_NONE}, {"hold", CFOIL_ACCEPT_HOLD}, {"all", CFOIL_ACCEPT_ALL}, {NULL, 0}};

const struct trace_word trace_losses[] = {{"gone", CFOIL_E_PORT_GONE},
                                          {"failed", CFOIL_E_PORT_FAILED},
                                          {"stalled", CFOIL_E_PORT_STALLED},
                                          {"time_out", CFOIL_E_PORT_TIME_OUT},
                                          {"overflow", CFOIL_E_PORT_OVERFLOW},
                                          {"settings", CFOIL_E_PORT_SETTINGS},
                                          {NULL, 0}};

const struct trace_word trace_origins[] = {{"synthetic", 0}, {"captured", 1}, {NULL, 0}};

const char *trace_word_of(const struct trace_word *table, int32_t code)
{
    for (; table->text != NULL; table++) {
        if (table->code == code)
            return table->text;
    }
    return NULL;
}

const struct trace_word *trace_word_find(const struct trace_word *table, const char *text)
{
    for (; table->text != NULL; table++) {
        if (strcmp(table->text, text) == 0)
            return table;
    }
    return NULL;
}
