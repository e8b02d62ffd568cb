/*
 * What the cashier sees of a case: checks, advice, choices and the record.
 */
#include "till_view.h"

#include "print.h"

#include <stdlib.h>

#define VIEW_INDENT  14
#define EVENT_INDENT 21

/* What a line of the view is about: a word of the catalogue, or what the cashier types. */
static void labelled_view(const struct till *till, const char *label, const char *text)
{
    char shown[PHRASE_MAX];
    if (text == NULL || text[0] == '\0')
        return;
    snprintf(shown, sizeof shown, "  %s", label);
    print_wrapped(till->talk, shown, VIEW_INDENT, text);
}

void line_view(const struct till *till, const char *word, const char *text)
{
    char key[40];
    char label[PHRASE_MAX];
    snprintf(key, sizeof key, "till.label.%s", word);
    labelled_view(till, phrase_make(&till->phrases, key, NULL, 0, label), text);
}

static void key_view(const struct till *till, const char *keys, const char *message)
{
    char text[PHRASE_MAX];
    labelled_view(till, keys, phrase_make(&till->phrases, message, NULL, 0, text));
}

static const char *condition_word(int32_t condition)
{
    static const char *const words[] = {
        [CFOIL_CONDITION_RESTARTED] = "restarted",
        [CFOIL_CONDITION_JAM_REACHABLE] = "jam_reachable",
        [CFOIL_CONDITION_JAM_SAFE] = "jam_safe",
        [CFOIL_CONDITION_STACKER_REMOVED] = "stacker_removed",
        [CFOIL_CONDITION_STACKER_IN_PLACE] = "stacker_in_place",
        [CFOIL_CONDITION_STACKER_FULL] = "stacker_full",
        [CFOIL_CONDITION_FAULT] = "fault",
        [CFOIL_CONDITION_FAULT_CLEARED] = "fault_cleared",
        [CFOIL_CONDITION_TAMPERING] = "tampering",
        [CFOIL_CONDITION_UNKNOWN_NOTE_STACKED] = "unknown_note_stacked",
        [CFOIL_CONDITION_UNKNOWN_CODE] = "unknown_code",
        [CFOIL_CONDITION_BARCODE] = "barcode",
        [CFOIL_CONDITION_LINE_NOISY] = "line_noisy",
        [CFOIL_CONDITION_COUNTER_GAP] = "counter_gap",
        [CFOIL_CONDITION_QUEUE_OVERFLOW] = "queue_overflow",
        [CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT] = "amount_may_be_short",
        [CFOIL_CONDITION_OUTCOME_UNKNOWN] = "outcome_unknown",
        [CFOIL_CONDITION_LEDGER_FAILING] = "ledger_failing",
        [CFOIL_CONDITION_IDENTIFIED] = "identified",
    };
    bool known = condition > 0 && condition < (int32_t)(sizeof words / sizeof words[0]);
    return known ? words[condition] : "other";
}

static const char *reason_word(int32_t reason)
{
    static const char *const words[] = {"none",        "authenticity",     "not_recognised", "handling",
                                        "not_enabled", "device_condition", "tampering"};
    return words[reason > 0 && reason < (int32_t)(sizeof words / sizeof words[0]) ? reason : 0];
}

static const char *state_word(int32_t state)
{
    static const char *const words[] = {
        "condition.other", "state.opening", "state.starting", "state.idle",
        "state.accepting", "state.fault",   "state.lost",     "state.ended",
    };
    return words[state > 0 && state < (int32_t)(sizeof words / sizeof words[0]) ? state : 0];
}

/* The catalogue key of what the machine told. */
static void event_key(const cfoil_event *event, char key[64])
{
    switch (event->kind) {
    case CFOIL_KIND_HELD:
        snprintf(key, 64, "event.held");
        break;
    case CFOIL_KIND_STACKED:
        snprintf(key, 64, "event.stacked");
        break;
    case CFOIL_KIND_RETURNED:
        snprintf(key, 64, "event.returned");
        break;
    case CFOIL_KIND_REJECTED:
        snprintf(key, 64, "machine.reason.%s", reason_word(event->reason));
        break;
    case CFOIL_KIND_LOST_EVENTS:
        snprintf(key, 64, "event.lost_events");
        break;
    case CFOIL_KIND_LANE_STATE:
        snprintf(key, 64, "event.%s", state_word(event->lane_state));
        break;
    default:
        snprintf(key, 64, "event.condition.%s", condition_word(event->condition));
        break;
    }
}

void event_view(const struct till *till, const cfoil_event *event)
{
    char key[64];
    char text[PHRASE_MAX];
    char line[PHRASE_MAX + sizeof event->raw_text + 4];
    char when[PRINT_TIME_SIZE];
    char amount[PRINT_AMOUNT_SIZE] = "";
    char head[PRINT_TIME_SIZE + PRINT_AMOUNT_SIZE + 4];
    event_key(event, key);
    if (event->currency[0] != '\0')
        amount_text(event->currency, event->value_minor, amount);
    snprintf(head, sizeof head, "%sZ %-10s ", time_text(event->time_utc_ms, when) + 11, amount);
    const char *said = phrase_make(&till->phrases, key, NULL, 0, text);
    if (event->raw_text[0] != '\0')
        snprintf(line, sizeof line, "%s [%s]", said, event->raw_text);
    print_wrapped(till->talk, head, EVENT_INDENT, event->raw_text[0] != '\0' ? line : said);
}

void check_view(const struct till *till, const cfoil_step *step)
{
    static const char *const senses[] = {"none", "feel", "look", "tilt", "tool"};
    static const char *const sides[] = {"whole", "front", "back"};
    char text[PHRASE_MAX];
    const cfoil_argument arguments[] = {
        {"number", NULL, step->number},
        {"number_max", NULL, step->number_max},
        {"sense", senses[step->sense >= 1 && step->sense <= 4 ? step->sense : 0], 0},
        {"side", sides[step->side >= 1 && step->side <= 2 ? step->side : 0], 0},
        {"title", step->title, 0},
    };
    fprintf(till->talk, "\n%s\n", phrase_make(&till->phrases, "till.check", arguments, 5, text));
    line_view(till, "do", step->instruction);
    line_view(till, "should_be", step->expected);
    line_view(till, "would_not", step->doubtful);
    line_view(till, "in_mind", step->hint);
}

void help_view(const struct till *till, const cfoil_step *step)
{
    if (step->kind == CFOIL_STEP_CHECK)
        key_view(till, "1, 2, 3", "till.help.answers");
    else
        key_view(till, "1, 2, ...", "till.help.choices");
    key_view(till, "b", "till.help.back");
    key_view(till, "s", "till.help.serial");
    key_view(till, "n", "till.help.not_taken");
    key_view(till, "q", "till.help.stop");
    line_view(till, "source", step->source);
    line_view(till, "caution", step->caution);
}

void serial_view(const struct till *till, const cfoil_serial *serial)
{
    char text[PHRASE_MAX];
    line_view(till, "serial", serial->normalised);
    print_wrapped(till->talk, "", VIEW_INDENT, serial->text);
    print_wrapped(till->talk, "", VIEW_INDENT, phrase_make(&till->phrases, "till.serial.caution", NULL, 0, text));
    if (serial->seen_refused)
        print_wrapped(till->talk, "", VIEW_INDENT, phrase_make(&till->phrases, "till.serial.seen", NULL, 0, text));
}

static const char *disposition_text(const struct till *till, int32_t disposition, char text[PHRASE_MAX])
{
    static const char *const keys[] = {"till.disposition.none", "till.disposition.taken", "till.disposition.not_taken",
                                       "till.disposition.set_aside", "till.disposition.abandoned"};
    bool known = disposition > 0 && disposition < (int32_t)(sizeof keys / sizeof keys[0]);
    return phrase_make(&till->phrases, keys[known ? disposition : 0], NULL, 0, text);
}

static int choices_view(const struct till *till, const cfoil_step *step, int32_t choices[CHOICES_MAX])
{
    char text[PHRASE_MAX];
    int count = 0;
    till_say(till, "till.how_ended");
    for (int32_t disposition = CFOIL_DISPOSITION_TAKEN; disposition <= CFOIL_DISPOSITION_ABANDONED; disposition++) {
        if ((step->dispositions & (1u << disposition)) == 0)
            continue;
        choices[count++] = disposition;
        fprintf(till->talk, "  %d  %s\n", count, disposition_text(till, disposition, text));
    }
    if ((step->dispositions & (1u << CFOIL_DISPOSITION_TAKEN)) == 0)
        fprintf(till->talk, "  t  %s\n", phrase_make(&till->phrases, "till.choice.taken", NULL, 0, text));
    fprintf(till->talk, "  %s\n", phrase_make(&till->phrases, "till.choice.keys", NULL, 0, text));
    return count;
}

int advice_view(const struct till *till, const cfoil_step *step, int32_t choices[CHOICES_MAX])
{
    fputc('\n', till->talk);
    phrase_print_with(till->talk, &till->phrases, "till.advice", "title", step->title);
    line_view(till, "do", step->instruction);
    line_view(till, "say", step->say);
    line_view(till, "because", step->reasons);
    line_view(till, "caution", step->caution);
    return choices_view(till, step, choices);
}

void record_view(const struct till *till, const cfoil_record *record)
{
    char text[PHRASE_MAX];
    char when[PRINT_TIME_SIZE];
    char number[32];
    char moment[PRINT_TIME_SIZE + 8];
    snprintf(number, sizeof number, "%lld", (long long)record->entry);
    snprintf(moment, sizeof moment, "%s UTC", time_text(record->time_utc_ms, when));
    fputc('\n', till->talk);
    phrase_print_with(till->talk, &till->phrases, "till.ended", "title",
                      disposition_text(till, record->disposition, text));
    line_view(till, "record",
              record->entry != 0 ? number : phrase_make(&till->phrases, "till.record.none", NULL, 0, text));
    line_view(till, "time", moment);
    line_view(till, "case", record->case_id);
    line_view(till, "hash", record->hash);
    if (till->json)
        printf("{\"record\":%lld,\"time_utc_ms\":%lld,\"case\":\"%s\",\"hash\":\"%s\"}\n", (long long)record->entry,
               (long long)record->time_utc_ms, record->case_id, record->hash);
}

static int32_t case_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    return cfoil_case_json(user, buffer, capacity, needed);
}

void case_json_view(const struct till *till, cfoil_case *doubt)
{
    if (!till->json)
        return;
    int32_t result;
    char *text = text_fetch(case_source, doubt, &result);
    if (text != NULL)
        printf("%s\n", text);
    else
        failure_report(doubt, result, "cannot show the case as JSON");
    free(text);
}
