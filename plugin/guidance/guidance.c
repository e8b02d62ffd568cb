/*
 * One case: options, presentations, answers, serial number, and the step that follows from them. See guidance.h.
 */
#include "guidance/guidance.h"

#include "guidance/state.h"
#include "model/error.h"
#include "model/text.h"

#include <string.h>

static const char area[] = "guidance";

/* ---- Opening ---- */

static bool text_optional(const char *text, size_t maximum)
{
    return text == NULL || text_acceptable(text, 0, maximum);
}

static bool currency_form(const char *currency)
{
    return strlen(currency) == 3 && strspn(currency, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == 3;
}

static int32_t texts_check(const cfoil_case_options *options, cfoil_error_info *error)
{
    if (options->currency == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, area, "Name the currency, for example EUR.");
    if (!currency_form(options->currency))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Give the currency as three capitals, as EUR.");
    if (!text_optional(options->series, 15))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Give a series id of at most 15 bytes, or NULL.");
    if (!text_optional(options->jurisdiction, 15))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Give a jurisdiction of at most 15 bytes, or NULL.");
    if (!text_optional(options->language, GUIDANCE_LANGUAGE_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area, "Give a language of at most 16 bytes, or NULL.");
    if (!text_optional(options->lane, GUIDANCE_LANE_MAX) || !text_optional(options->sale, GUIDANCE_SALE_MAX) ||
        !text_optional(options->staff, GUIDANCE_STAFF_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, area,
                         "Give lane (32 bytes), sale (64) and staff (32) as UTF-8 without control characters.");
    return CFOIL_OK;
}

static int32_t numbers_check(const cfoil_case_options *options, cfoil_error_info *error)
{
    const uint32_t tools = CFOIL_TOOL_MAGNIFIER | CFOIL_TOOL_UV_A | CFOIL_TOOL_RULER | CFOIL_TOOL_KNOWN_NOTE;
    if (options->value_minor <= 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give the note's value in minor units.");
    if ((options->tools & ~tools) != 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give tools as a mask of CFOIL_TOOL_* only.");
    if (options->check_limit != 0 && (options->check_limit < 3 || options->check_limit > 12))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give a check limit of 3 to 12, or 0 for 6.");
    const uint32_t without = CFOIL_WITHOUT_BACK_LIGHT | CFOIL_WITHOUT_COLOUR_VISION | CFOIL_WITHOUT_BOTH_HANDS;
    if ((options->without & ~without) != 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give `without` as a mask of CFOIL_WITHOUT_* only.");
    if (options->seconds_limit != 0 && (options->seconds_limit < 10 || options->seconds_limit > 600))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give a limit of 10 to 600 seconds, or 0 for 90.");
    if (options->reserved != 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Set the reserved member to 0.");
    return CFOIL_OK;
}

/* Finds what the options name in the packs. */
static int32_t note_find(struct guidance *guidance, const cfoil_case_options *options, cfoil_error_info *error)
{
    guidance->currency = pack_currency_find(guidance->packs, options->currency);
    if (guidance->currency == NULL)
        return error_set(error, CFOIL_E_MISSING_PACK, 0, area, "There is no pack for %s: load one.", options->currency);
    const char *series = options->series != NULL && options->series[0] != '\0' ? options->series : NULL;
    guidance->note = pack_note_find(guidance->currency, options->value_minor, series);
    if (guidance->note == NULL)
        return error_set(error, CFOIL_E_MISSING_NOTE, 0, area,
                         "The pack for %s has no such note or series: check value and series.", options->currency);
    guidance->jurisdiction = pack_jurisdiction_find(guidance->packs, options->jurisdiction);
    if (guidance->jurisdiction == NULL)
        return error_set(error, CFOIL_E_MISSING_JURISDICTION, 0, area,
                         "There are no rules for this jurisdiction: load a pack, or give NULL for the common ground.");
    if (!pack_language_known(guidance->packs, options->language))
        return error_set(error, CFOIL_E_MISSING_LANGUAGE, 0, area,
                         "There are no texts in this language: load a pack, or give NULL for English.");
    return CFOIL_OK;
}

/* Is today, in UTC, after this ISO 8601 day? "" = never. */
static bool day_passed(int64_t today_utc_ms, const char *day)
{
    char today[TEXT_TIME_SIZE];
    text_time(today_utc_ms, today);
    return day[0] != '\0' && strncmp(today, day, strlen("2026-11-25")) > 0;
}

void guidance_record_set(struct guidance *guidance, uint64_t presentations, uint64_t refusals)
{
    evidence_basis_make(pack_evidence_find(guidance->packs), guidance->currency, presentations, refusals,
                        &guidance->basis);
}

void guidance_time_set(struct guidance *guidance, int64_t monotonic_ms)
{
    struct guidance_clock *clock = &guidance->clock;
    if (!clock->told)
        clock->opened_ms = monotonic_ms;
    clock->told = true;
    clock->now_ms = monotonic_ms;
}

static int32_t guidance_fill(struct guidance *guidance, const cfoil_case_options *options, cfoil_error_info *error)
{
    int32_t result = note_find(guidance, options, error);
    if (result != CFOIL_OK)
        return result;
    size_t count = guidance->note->check_count;
    guidance->answers = memory_allocate(guidance->memory, count * sizeof *guidance->answers);
    guidance->order = memory_allocate(guidance->memory, count * sizeof *guidance->order);
    guidance->answer_ms = memory_allocate(guidance->memory, count * sizeof *guidance->answer_ms);
    if (guidance->answers == NULL || guidance->order == NULL || guidance->answer_ms == NULL)
        return error_memory_set(error, area);
    text_copy(guidance->language, sizeof guidance->language, options->language);
    text_copy(guidance->currency_code, sizeof guidance->currency_code, options->currency);
    text_copy(guidance->lane, sizeof guidance->lane, options->lane);
    text_copy(guidance->sale, sizeof guidance->sale, options->sale);
    text_copy(guidance->staff, sizeof guidance->staff, options->staff);
    guidance->tools = options->tools;
    guidance->without = options->without;
    guidance->check_limit = options->check_limit != 0 ? options->check_limit : 6;
    guidance->seconds_limit = options->seconds_limit != 0 ? options->seconds_limit : 90;
    guidance->withdrawn = day_passed(options->today_utc_ms, guidance->note->tender_until);
    guidance_record_set(guidance, 0, 0);
    return CFOIL_OK;
}

int32_t guidance_open(const struct memory *memory, struct pack_set *packs, const cfoil_case_options *options,
                      const char *case_id, struct guidance **guidance, cfoil_error_info *error)
{
    *guidance = NULL;
    int32_t result = texts_check(options, error);
    if (result == CFOIL_OK)
        result = numbers_check(options, error);
    if (result != CFOIL_OK)
        return result;
    struct guidance *made = memory_allocate(memory, sizeof *made);
    if (made == NULL)
        return error_memory_set(error, area);
    made->memory = memory;
    made->packs = pack_set_retain(packs);
    text_copy(made->case_id, sizeof made->case_id, case_id);
    result = guidance_fill(made, options, error);
    if (result != CFOIL_OK) {
        guidance_close(made);
        return result;
    }
    *guidance = made;
    return CFOIL_OK;
}

void guidance_close(struct guidance *guidance)
{
    if (guidance == NULL)
        return;
    guidance_texts_release(guidance);
    memory_release(guidance->memory, guidance->events);
    memory_release(guidance->memory, guidance->presentations);
    memory_release(guidance->memory, guidance->answers);
    memory_release(guidance->memory, guidance->order);
    memory_release(guidance->memory, guidance->answer_ms);
    pack_set_release(guidance->packs);
    memory_release(guidance->memory, guidance);
}

/* ---- What the machine says ---- */

static int32_t ended_set(cfoil_error_info *error)
{
    return error_set(error, CFOIL_E_STATE_CASE_ENDED, 0, area, "The case has ended: open a new one.");
}

/* The four kinds of presentations, and device events that explain one. */
static bool kind_known(int32_t kind)
{
    return kind >= CFOIL_KIND_HELD && kind <= CFOIL_KIND_DEVICE;
}

static bool findings_known(const cfoil_event *event)
{
    if (event->finding_count > CFOIL_FINDINGS_MAX || event->raw_length > CFOIL_RAW_MAX)
        return false;
    for (uint32_t i = 0; i < event->finding_count; i++) {
        const cfoil_finding *finding = &event->findings[i];
        if (finding->channel < CFOIL_CHANNEL_UNKNOWN || finding->channel > CFOIL_CHANNEL_TRANSPORT ||
            finding->strength < CFOIL_STRENGTH_NONE || finding->strength > CFOIL_STRENGTH_STRONG)
            return false;
    }
    return true;
}

/* A machine that took a note of another value did not take this one: its word must not clear the case. */
static bool same_note(const struct guidance *guidance, const cfoil_event *event)
{
    if (event->currency[0] == '\0' || event->kind == CFOIL_KIND_REJECTED || event->kind == CFOIL_KIND_DEVICE)
        return true;
    return strncmp(event->currency, guidance->currency_code, sizeof event->currency) == 0 &&
           event->value_minor == guidance->note->value_minor;
}

static int32_t event_check(const struct guidance *guidance, const cfoil_event *event, cfoil_error_info *error)
{
    if (!kind_known(event->kind))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area,
                         "Give the case HELD, STACKED, RETURNED, REJECTED and DEVICE events only.");
    if (event->reason < CFOIL_REASON_NONE || event->reason > CFOIL_REASON_TAMPERING || !findings_known(event))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give the event as the lane gave it.");
    if (!same_note(guidance, event))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area,
                         "The machine saw a note of another value: open a case for that one.");
    return CFOIL_OK;
}

/* Makes room for one more presentation. On failure nothing has changed. */
static bool presentations_grow(struct guidance *guidance)
{
    if (guidance->event_count < guidance->event_capacity)
        return true;
    uint32_t capacity = 2 * guidance->event_capacity + 4;
    cfoil_event *events = memory_allocate(guidance->memory, capacity * sizeof *events);
    struct presentation *presentations = memory_allocate(guidance->memory, capacity * sizeof *presentations);
    if (events == NULL || presentations == NULL) {
        memory_release(guidance->memory, events);
        memory_release(guidance->memory, presentations);
        return false;
    }
    if (guidance->event_count > 0) {
        memcpy(events, guidance->events, guidance->event_count * sizeof *events);
        memcpy(presentations, guidance->presentations, guidance->event_count * sizeof *presentations);
    }
    memory_release(guidance->memory, guidance->events);
    memory_release(guidance->memory, guidance->presentations);
    guidance->events = events;
    guidance->presentations = presentations;
    guidance->event_capacity = capacity;
    return true;
}

/* Texts that came from a host end where their members end. */
static void event_texts_end(cfoil_event *event)
{
    event->currency[sizeof event->currency - 1] = '\0';
    event->note_name[sizeof event->note_name - 1] = '\0';
    event->raw_text[sizeof event->raw_text - 1] = '\0';
    event->text[sizeof event->text - 1] = '\0';
}

int32_t guidance_presentation_add(struct guidance *guidance, const cfoil_event *event, cfoil_error_info *error)
{
    guidance_texts_release(guidance);
    if (guidance->ending.disposition != CFOIL_DISPOSITION_NONE)
        return ended_set(error);
    int32_t result = event_check(guidance, event, error);
    if (result != CFOIL_OK)
        return result;
    if (!presentations_grow(guidance))
        return error_memory_set(error, area);
    cfoil_event *kept = &guidance->events[guidance->event_count];
    *kept = *event;
    event_texts_end(kept);
    presentation_from_event(&guidance->presentations[guidance->event_count], kept);
    guidance->event_count++;
    return CFOIL_OK;
}

/* ---- What the cashier says ---- */

/* How long the check was open, when it is the one that was shown. A corrected answer keeps the first time. */
static void answer_time(struct guidance *guidance, uint32_t check)
{
    struct guidance_clock *clock = &guidance->clock;
    guidance->answer_ms[check] = clock->shown == check + 1 ? clock->now_ms - clock->shown_ms : -1;
    clock->shown = 0;
}

int32_t guidance_answer(struct guidance *guidance, const char *check, int32_t answer, cfoil_error_info *error)
{
    if (guidance->ending.disposition != CFOIL_DISPOSITION_NONE)
        return ended_set(error);
    if (check == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, area, "Name the check that is answered.");
    if (answer < CFOIL_ANSWER_AS_IT_SHOULD_BE || answer > CFOIL_ANSWER_CANNOT_TELL)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, area, "Give one of CFOIL_ANSWER_*.");
    for (uint32_t i = 0; i < guidance->note->check_count; i++) {
        if (strcmp(guidance->note->checks[i].id, check) != 0)
            continue;
        if (guidance->answers[i] == 0) {
            guidance->order[guidance->answered++] = i;
            answer_time(guidance, i);
        }
        guidance->answers[i] = answer;
        guidance_texts_release(guidance); /* not earlier: `check` may be one of them */
        return CFOIL_OK;
    }
    return error_set(error, CFOIL_E_MISSING_CHECK, 0, area, "The note has no such check: give back cfoil_step.check.");
}

int32_t guidance_serial_check(const struct guidance *guidance, const char *serial, cfoil_serial *result)
{
    if (serial == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    if (!text_acceptable(serial, 1, 64))
        return CFOIL_E_ARGUMENT_TEXT;
    serial_check(guidance->currency, serial, result);
    serial_words(guidance->packs, guidance->language, guidance->currency, result);
    return CFOIL_OK;
}

int32_t guidance_serial_set(struct guidance *guidance, const cfoil_serial *serial, bool refused_before,
                            cfoil_error_info *error)
{
    if (guidance->ending.disposition != CFOIL_DISPOSITION_NONE)
        return ended_set(error);
    guidance_texts_release(guidance);
    guidance->serial = *serial;
    /* Where genuine notes share numbers, a number that was refused before must not end the case of another note. */
    guidance->serial_refused = refused_before && !serial_repeats(guidance->currency, serial->normalised);
    return CFOIL_OK;
}

/* ---- What to do now ---- */

struct plan_input guidance_input(const struct guidance *guidance, const struct combined *combined)
{
    const struct guidance_clock *clock = &guidance->clock;
    return (struct plan_input){
        .basis = &guidance->basis,
        .note = guidance->note,
        .combined = combined,
        .answers = guidance->answers,
        .order = guidance->order,
        .answered = guidance->answered,
        .tools = guidance->tools,
        .without = guidance->without,
        .check_limit = guidance->check_limit,
        .time_up = clock->now_ms - clock->opened_ms > (int64_t)guidance->seconds_limit * 1000,
        .serial_refused = guidance->serial_refused,
        .withdrawn = guidance->withdrawn,
    };
}

void guidance_plan(const struct guidance *guidance, struct combined *combined, struct plan *plan)
{
    presentations_combine(guidance->presentations, guidance->event_count, combined);
    struct plan_input input = guidance_input(guidance, combined);
    plan_make(&input, plan);
}

/* From now on the check counts as open, unless it was already. */
static void check_shown(struct guidance *guidance, const struct plan *plan)
{
    struct guidance_clock *clock = &guidance->clock;
    if (plan->kind != CFOIL_STEP_CHECK || !clock->told || clock->shown == plan->check + 1)
        return;
    clock->shown = plan->check + 1;
    clock->shown_ms = clock->now_ms;
}

int32_t guidance_step(struct guidance *guidance, cfoil_step *step, cfoil_error_info *error)
{
    guidance_texts_release(guidance);
    struct combined combined;
    struct plan plan;
    guidance_plan(guidance, &combined, &plan);
    cfoil_step filled = {
        .struct_size = step->struct_size,
        .kind = plan.kind,
        .advice = plan.advice,
    };
    if (guidance->ending.disposition == CFOIL_DISPOSITION_NONE)
        filled.dispositions = plan_dispositions(&plan, guidance->jurisdiction);
    int32_t result = guidance_words(guidance, &combined, &plan, &filled, error);
    if (result == CFOIL_OK) {
        *step = filled;
        check_shown(guidance, &plan);
    }
    return result;
}

/* ---- What others ask ---- */

int32_t guidance_disposition(const struct guidance *guidance)
{
    return guidance->ending.disposition;
}

bool guidance_touched(const struct guidance *guidance)
{
    return guidance->event_count > 0 || guidance->answered > 0;
}

const char *guidance_case_id(const struct guidance *guidance)
{
    return guidance->case_id;
}

const char *guidance_currency(const struct guidance *guidance)
{
    return guidance->currency_code;
}

const char *guidance_serial(const struct guidance *guidance)
{
    return guidance->serial.normalised;
}
