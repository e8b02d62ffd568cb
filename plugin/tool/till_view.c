/*
 * What the cashier sees of a case: checks, advice, choices and the record.
 */
#include "till_view.h"

#include "print.h"

#include <stdlib.h>

#define VIEW_INDENT 14

static void line_view(FILE *out, const char *label, const char *text)
{
    if (text != NULL && text[0] != '\0')
        print_wrapped(out, label, VIEW_INDENT, text);
}

static const char *sense_word(int32_t sense)
{
    static const char *const words[] = {"Check", "Feel", "Look", "Tilt", "With a tool"};
    return sense > 0 && sense < (int32_t)(sizeof words / sizeof words[0]) ? words[sense] : words[0];
}

static const char *side_word(int32_t side)
{
    if (side == 1)
        return " (front)";
    return side == 2 ? " (back)" : "";
}

void check_view(FILE *out, const cfoil_step *step)
{
    fprintf(out, "\nCheck %u of at most %u. %s: %s%s\n", (unsigned)step->number, (unsigned)step->number_max,
            sense_word(step->sense), step->title, side_word(step->side));
    line_view(out, "  do", step->instruction);
    line_view(out, "  should be", step->expected);
    line_view(out, "  would not", step->doubtful);
    line_view(out, "  in mind", step->hint);
}

void help_view(FILE *out, const cfoil_step *step)
{
    if (step->kind == CFOIL_STEP_CHECK)
        line_view(out, "  1, 2, 3", "your answer; 'cannot tell' is a good answer, it never counts as a pass");
    else
        line_view(out, "  1, 2, ...", "how it ended, as shown above");
    line_view(out, "  b", "back: change the answer before");
    line_view(out, "  s", "enter the serial number of the note");
    line_view(out, "  n", "do not take the note, and end here");
    line_view(out, "  q", "stop without a decision");
    line_view(out, "  source", step->source);
    line_view(out, "  caution", step->caution);
}

static const char *disposition_text(int32_t disposition)
{
    static const char *const texts[] = {"no decision", "taken as payment", "not taken; it stays with the customer",
                                        "set aside, kept apart from the till",
                                        "no decision: fed again, paid otherwise, or the machine is at fault"};
    return disposition > 0 && disposition < (int32_t)(sizeof texts / sizeof texts[0]) ? texts[disposition] : texts[0];
}

int advice_view(FILE *out, const cfoil_step *step, int32_t choices[CHOICES_MAX])
{
    fprintf(out, "\nAdvice: %s\n", step->title);
    line_view(out, "  do", step->instruction);
    line_view(out, "  say", step->say);
    line_view(out, "  because", step->reasons);
    line_view(out, "  caution", step->caution);
    fprintf(out, "How did it end?\n");
    int count = 0;
    for (int32_t disposition = CFOIL_DISPOSITION_TAKEN; disposition <= CFOIL_DISPOSITION_ABANDONED; disposition++) {
        if ((step->dispositions & (1u << disposition)) == 0)
            continue;
        choices[count++] = disposition;
        fprintf(out, "  %d  %s\n", count, disposition_text(disposition));
    }
    if ((step->dispositions & (1u << CFOIL_DISPOSITION_TAKEN)) == 0)
        fprintf(out, "  t  taken all the same, on a supervisor's word\n");
    fprintf(out, "  b  back: change the last answer    s  serial number    ?  help\n");
    return count;
}

void record_view(struct till *till, const cfoil_record *record)
{
    char when[PRINT_TIME_SIZE];
    fprintf(till->talk, "\nEnded: %s\n", disposition_text(record->disposition));
    if (record->entry != 0)
        fprintf(till->talk, "  record      %lld\n", (long long)record->entry);
    else
        fprintf(till->talk, "  record      none: no ledger is open\n");
    fprintf(till->talk, "  time        %s UTC\n  case        %s\n", time_text(record->time_utc_ms, when),
            record->case_id);
    if (record->hash[0] != '\0')
        fprintf(till->talk, "  hash        %s\n", record->hash);
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
