/*
 * A case fed with any events, answers and texts, in any order, through the public calls: nothing goes wrong, all that
 * comes out is well-formed JSON, and what was refused never becomes taken.
 */
#include "fuzz.h"

#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>

enum { ACTIONS_MAX = 64, TEXT_MAX = 300 };

static cfoil_context *context;

static void context_make(void)
{
    demand(cfoil_context_open(NULL, &context) == CFOIL_OK);
}

static void context_end(void)
{
    cfoil_context_close(context);
}

/* A text of the input, its length in front; NULL now and then. */
static const char *text_take(struct walk *walk, char text[TEXT_MAX])
{
    uint8_t length = walk_byte(walk);
    if (length == 255)
        return NULL;
    uint32_t given = walk_bytes(walk, length, (uint8_t *)text);
    text[given] = '\0';
    return text;
}

/* A text in a field of an event, also one that is no UTF-8 or never ends. */
static void field_fill(struct walk *walk, char *field, uint32_t size)
{
    (void)walk_bytes(walk, walk_byte(walk) % (size + 1), (uint8_t *)field);
}

static void event_take(struct walk *walk, cfoil_event *event)
{
    uint8_t shape = walk_byte(walk);
    event->kind = walk_byte(walk) % 9;
    event->reason = (int8_t)walk_byte(walk) % 9;
    event->reasons_possible = walk_byte(walk);
    event->condition = (int8_t)walk_byte(walk) % 22;
    event->finding_count = shape % 11;
    event->raw_length = shape / 8;
    event->presentation = walk_byte(walk);
    event->value_minor = (int64_t)walk_byte(walk) * 500;
    for (uint32_t i = 0; i < event->finding_count && i < CFOIL_FINDINGS_MAX; i++) {
        uint8_t finding = walk_byte(walk);
        event->findings[i] = (cfoil_finding){finding % 11 - 1, finding / 11 % 5, finding / 55, 0};
    }
    (void)walk_bytes(walk, shape % 16, event->raw);
    if (shape < 64)
        return;
    field_fill(walk, event->currency, sizeof event->currency);
    field_fill(walk, event->note_name, sizeof event->note_name);
    field_fill(walk, event->raw_text, sizeof event->raw_text);
    field_fill(walk, event->text, sizeof event->text);
    if (shape >= 128)
        (void)walk_bytes(walk, 64, (uint8_t *)&event->sequence);
}

/* A JSON text of a call that fills a buffer; `of` is its handle or event. */
static void json_is_whole(int32_t (*call)(void *of, char *buffer, size_t capacity, size_t *needed), void *of)
{
    size_t needed = 0;
    char none[1];
    int32_t result = call(of, none, 1, &needed);
    demand(result == CFOIL_E_ARGUMENT_BUFFER || (result & 0xFF) == CFOIL_CLASS_ARGUMENT);
    if (result != CFOIL_E_ARGUMENT_BUFFER)
        return;
    char *text = malloc(needed + 64); /* a case holds the time: its length may differ by some digits */
    demand(text != NULL && call(of, text, needed + 64, &needed) == CFOIL_OK && strlen(text) + 1 == needed);
    cJSON *tree = cJSON_ParseWithOpts(text, NULL, 1);
    demand(tree != NULL && strchr(text, '\n') == NULL);
    cJSON_Delete(tree);
    free(text);
}

static int32_t case_json(void *of, char *buffer, size_t capacity, size_t *needed)
{
    return cfoil_case_json(of, buffer, capacity, needed);
}

static int32_t event_json(void *of, char *buffer, size_t capacity, size_t *needed)
{
    return cfoil_event_json(of, buffer, capacity, needed);
}

static void step_is_whole(const cfoil_step *step)
{
    const char *const texts[] = {step->check, step->title, step->instruction, step->expected, step->doubtful,
                                 step->hint,  step->say,   step->reasons,     step->caution,  step->source};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        demand(texts[i] != NULL);
    demand(step->kind == CFOIL_STEP_CHECK || step->kind == CFOIL_STEP_ADVICE);
    demand((step->kind == CFOIL_STEP_CHECK) == (step->check[0] != '\0'));
    demand(step->kind == CFOIL_STEP_CHECK || step->advice != CFOIL_ADVICE_NONE);
}

struct doubt {
    cfoil_case *handle;
    bool ended, refused;
};

static void event_give(struct doubt *doubt, struct walk *walk)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event_take(walk, &event);
    json_is_whole(event_json, &event);
    int32_t result = cfoil_case_presentation_add(doubt->handle, &event);
    demand(result == CFOIL_OK || (result & 0xFF) == CFOIL_CLASS_ARGUMENT || result == CFOIL_E_STATE_CASE_ENDED);
}

static void answer_give(struct doubt *doubt, struct walk *walk)
{
    char other[TEXT_MAX];
    cfoil_step step = CFOIL_STEP_INIT;
    demand(cfoil_case_step(doubt->handle, &step) == CFOIL_OK);
    step_is_whole(&step);
    uint8_t how = walk_byte(walk);
    const char *check = how >= 224 ? text_take(walk, other) : step.check;
    int32_t answer = how % 7 == 6 ? (int8_t)walk_byte(walk) : 1 + how % 3;
    int32_t result = cfoil_case_answer(doubt->handle, check, answer);
    if (how < 224 && step.kind == CFOIL_STEP_CHECK && answer >= 1 && answer <= 3)
        demand(result == (doubt->ended ? CFOIL_E_STATE_CASE_ENDED : CFOIL_OK));
}

static void serial_give(struct doubt *doubt, struct walk *walk)
{
    char text[TEXT_MAX];
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    int32_t result = cfoil_case_serial_set(doubt->handle, text_take(walk, text), &serial);
    demand(result != CFOIL_OK || (serial.text[0] != '\0' && serial.seen_refused == 0));
}

static void case_end(struct doubt *doubt, struct walk *walk)
{
    char texts[3][TEXT_MAX];
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    cfoil_record record = CFOIL_RECORD_INIT;
    uint8_t how = walk_byte(walk);
    options.disposition = how % 6;
    if (how >= 64) {
        options.envelope = text_take(walk, texts[0]);
        options.override_by = text_take(walk, texts[1]);
        options.override_why = text_take(walk, texts[2]);
    }
    int32_t result = cfoil_case_dispose(doubt->handle, &options, &record);
    if (result != CFOIL_OK)
        return;
    demand(!doubt->ended && !(doubt->refused && options.disposition == CFOIL_DISPOSITION_TAKEN));
    demand(record.disposition == options.disposition && record.entry == 0);
    doubt->ended = true;
    doubt->refused = options.disposition == CFOIL_DISPOSITION_NOT_TAKEN ||
                     options.disposition == CFOIL_DISPOSITION_SET_ASIDE;
}

static void serial_check(struct walk *walk)
{
    char text[TEXT_MAX];
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    int32_t result = cfoil_serial_check(context, "EUR", text_take(walk, text), &serial);
    demand(result != CFOIL_OK || serial.text[0] != '\0');
}

static bool doubt_open(struct doubt *doubt, struct walk *walk)
{
    static const int64_t values[] = {500, 1000, 2000, 5000, 10000, 20000, 50000, 123};
    static const char *const jurisdictions[] = {NULL, "DE", "LU", "common", "XX"};
    char texts[3][TEXT_MAX];
    uint8_t first = walk_byte(walk);
    uint8_t second = walk_byte(walk);
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = values[first % 8];
    options.jurisdiction = jurisdictions[first / 8 % 5];
    options.tools = second % 16;
    options.check_limit = second / 16;
    if (first >= 200) {
        options.series = text_take(walk, texts[0]);
        options.sale = text_take(walk, texts[1]);
        options.staff = text_take(walk, texts[2]);
    }
    return cfoil_case_open(context, &options, &doubt->handle) == CFOIL_OK;
}

static void case_act(struct doubt *doubt, struct walk *walk)
{
    switch (walk_byte(walk) % 8) {
    case 0:
    case 1:
        event_give(doubt, walk);
        break;
    case 2:
    case 3:
        answer_give(doubt, walk);
        break;
    case 4:
        serial_give(doubt, walk);
        break;
    case 5:
        case_end(doubt, walk);
        break;
    case 6:
        serial_check(walk);
        break;
    default:
        json_is_whole(case_json, doubt->handle);
        break;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct walk walk = {data, size};
    struct doubt doubt = {NULL, false, false};
    if (context == NULL) {
        context_make();
        (void)atexit(context_end);
    }
    if (!doubt_open(&doubt, &walk))
        return 0;
    for (int i = 0; i < ACTIONS_MAX && walk.left > 0; i++)
        case_act(&doubt, &walk);
    json_is_whole(case_json, doubt.handle);
    cfoil_case_close(doubt.handle);
    return 0;
}
