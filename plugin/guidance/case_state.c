/*
 * A case as text that it can be taken up from again. See case_state.h.
 */
#include "guidance/case_state.h"

#include "guidance/state.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"

#include <stddef.h>
#include <string.h>

static const char *const area = "case";

#define SCHEMA "counterfoil.open_case/1"

/* ---- An event, member by member ---- */

enum member_type { MEMBER_INT32, MEMBER_UINT32, MEMBER_INT64, MEMBER_TEXT };

static const struct member {
    const char *name;
    enum member_type type;
    size_t offset;
    size_t size;
} members[] = {
#define MEMBER(type, name)                                                                                             \
    {                                                                                                                  \
#name, type, offsetof(cfoil_event, name), sizeof(((cfoil_event *)NULL)->name)                                  \
    }
    MEMBER(MEMBER_INT32, kind),         MEMBER(MEMBER_INT64, sequence),
    MEMBER(MEMBER_INT64, presentation), MEMBER(MEMBER_INT64, time_utc_ms),
    MEMBER(MEMBER_INT64, monotonic_us), MEMBER(MEMBER_INT64, value_minor),
    MEMBER(MEMBER_INT64, entry),        MEMBER(MEMBER_INT32, note_type),
    MEMBER(MEMBER_INT32, reason),       MEMBER(MEMBER_UINT32, reasons_possible),
    MEMBER(MEMBER_INT32, condition),    MEMBER(MEMBER_INT32, lane_state),
    MEMBER(MEMBER_INT32, result),       MEMBER(MEMBER_UINT32, lost_count),
    MEMBER(MEMBER_UINT32, flags),       MEMBER(MEMBER_TEXT, currency),
    MEMBER(MEMBER_TEXT, note_name),     MEMBER(MEMBER_TEXT, raw_text),
    MEMBER(MEMBER_TEXT, text),
};
#define MEMBER_COUNT (sizeof members / sizeof members[0])

static bool member_add(cJSON *item, const struct member *member, const cfoil_event *event)
{
    const char *place = (const char *)event + member->offset;
    int32_t small;
    uint32_t mask;
    int64_t large;
    switch (member->type) {
    case MEMBER_INT32:
        memcpy(&small, place, sizeof small);
        return json_integer_add(item, member->name, small);
    case MEMBER_UINT32:
        memcpy(&mask, place, sizeof mask);
        return json_integer_add(item, member->name, mask);
    case MEMBER_INT64:
        memcpy(&large, place, sizeof large);
        return json_integer_add(item, member->name, large);
    default:
        return json_text_add(item, member->name, place);
    }
}

static bool findings_add(cJSON *item, const cfoil_event *event)
{
    cJSON *list = json_array_add(item, "findings");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < event->finding_count; i++) {
        const cfoil_finding *finding = &event->findings[i];
        cJSON *three = json_array_add(list, NULL);
        good = json_integer_add(three, NULL, finding->channel) && json_integer_add(three, NULL, finding->strength) &&
               json_integer_add(three, NULL, finding->origin);
    }
    return good;
}

static bool raw_add(cJSON *item, const cfoil_event *event)
{
    char hex[2 * CFOIL_RAW_MAX + 1];
    text_hex(event->raw, event->raw_length, hex);
    return json_text_add(item, "raw", hex);
}

static bool event_add(cJSON *list, const cfoil_event *event)
{
    cJSON *item = json_object_add(list, NULL);
    bool good = item != NULL;
    for (size_t i = 0; good && i < MEMBER_COUNT; i++)
        good = member_add(item, &members[i], event);
    return good && findings_add(item, event) && raw_add(item, event);
}

/* ---- The case ---- */

static bool options_add(cJSON *object, const struct guidance *guidance)
{
    return json_text_add(object, "schema", SCHEMA) && json_text_add(object, "case", guidance->case_id) &&
           json_text_add(object, "language", guidance->language) &&
           json_text_add(object, "currency", guidance->currency_code) &&
           json_integer_add(object, "value_minor", guidance->note->value_minor) &&
           json_text_add(object, "series", guidance->note->series) &&
           json_text_add(object, "jurisdiction", guidance->jurisdiction->id) &&
           json_text_add(object, "lane", guidance->lane) && json_text_add(object, "sale", guidance->sale) &&
           json_text_add(object, "staff", guidance->staff) && json_integer_add(object, "tools", guidance->tools) &&
           json_integer_add(object, "without", guidance->without) &&
           json_integer_add(object, "check_limit", guidance->check_limit) &&
           json_integer_add(object, "seconds_limit", guidance->seconds_limit) &&
           json_flag_add(object, "withdrawn", guidance->withdrawn) &&
           json_integer_add(object, "spent_ms", guidance->clock.now_ms - guidance->clock.opened_ms) &&
           json_text_add(object, "serial", guidance->serial.normalised) &&
           json_flag_add(object, "serial_refused", guidance->serial_refused);
}

static bool answers_add(cJSON *object, const struct guidance *guidance)
{
    cJSON *list = json_array_add(object, "answers");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < guidance->answered; i++) {
        uint32_t check = guidance->order[i];
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "check", guidance->note->checks[check].id) &&
               json_integer_add(item, "answer", guidance->answers[check]) &&
               json_integer_add(item, "answer_ms", guidance->answer_ms[check]);
    }
    return good;
}

cJSON *guidance_state(const struct guidance *guidance)
{
    cJSON *object = cJSON_CreateObject();
    bool good = options_add(object, guidance) && answers_add(object, guidance);
    cJSON *list = good ? json_array_add(object, "events") : NULL;
    good = list != NULL;
    for (uint32_t i = 0; good && i < guidance->event_count; i++)
        good = event_add(list, &guidance->events[i]);
    if (good)
        return object;
    cJSON_Delete(object);
    return NULL;
}

/* ---- Reading it again ---- */

/* What does not stand there, or is of another type, is 0 or "": the ordinary checks judge it. */
static int64_t number_in(const cJSON *object, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);
    bool whole = cJSON_IsNumber(item) && item->valuedouble > -9.0e15 && item->valuedouble < 9.0e15;
    return whole ? (int64_t)item->valuedouble : 0;
}

static int32_t small_of(int64_t value)
{
    return value < INT32_MIN || value > INT32_MAX ? -1 : (int32_t)value;
}

static uint32_t mask_of(int64_t value)
{
    return value < 0 || value > UINT32_MAX ? UINT32_MAX : (uint32_t)value;
}

static const char *text_in(const cJSON *object, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return text != NULL ? text : "";
}

static void member_read(const cJSON *item, const struct member *member, cfoil_event *event)
{
    char *place = (char *)event + member->offset;
    int64_t large = number_in(item, member->name);
    int32_t small = small_of(large);
    uint32_t mask = mask_of(large);
    switch (member->type) {
    case MEMBER_INT32:
        memcpy(place, &small, sizeof small);
        break;
    case MEMBER_UINT32:
        memcpy(place, &mask, sizeof mask);
        break;
    case MEMBER_INT64:
        memcpy(place, &large, sizeof large);
        break;
    default:
        text_copy(place, member->size, text_in(item, member->name));
        break;
    }
}

static uint8_t digit_of(char digit)
{
    return (uint8_t)(digit >= 'a' && digit <= 'f' ? digit - 'a' + 10 : digit >= '0' && digit <= '9' ? digit - '0' : 0);
}

static void raw_read(const cJSON *item, cfoil_event *event)
{
    const char *hex = text_in(item, "raw");
    size_t length = strlen(hex) / 2;
    event->raw_length = (uint32_t)(length < CFOIL_RAW_MAX ? length : CFOIL_RAW_MAX);
    for (uint32_t i = 0; i < event->raw_length; i++)
        event->raw[i] = (uint8_t)(digit_of(hex[2 * i]) << 4 | digit_of(hex[2 * i + 1]));
}

static int32_t place_in(const cJSON *list, int place)
{
    const cJSON *item = cJSON_GetArrayItem(list, place);
    return cJSON_IsNumber(item) && item->valuedouble >= 0 && item->valuedouble < 1000 ? (int32_t)item->valuedouble : -1;
}

static void event_read(const cJSON *item, cfoil_event *event)
{
    const cfoil_event empty = CFOIL_EVENT_INIT;
    *event = empty;
    for (size_t i = 0; i < MEMBER_COUNT; i++)
        member_read(item, &members[i], event);
    const cJSON *finding;
    cJSON_ArrayForEach(finding, cJSON_GetObjectItemCaseSensitive(item, "findings"))
    {
        if (event->finding_count == CFOIL_FINDINGS_MAX)
            break;
        cfoil_finding *kept = &event->findings[event->finding_count++];
        kept->channel = place_in(finding, 0);
        kept->strength = place_in(finding, 1);
        kept->origin = place_in(finding, 2);
    }
    raw_read(item, event);
}

static int32_t events_restore(struct guidance *guidance, const cJSON *state, cfoil_error_info *error)
{
    const cJSON *item;
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(state, "events"))
    {
        cfoil_event event;
        event_read(item, &event);
        int32_t result = guidance_presentation_add(guidance, &event, error);
        if (result != CFOIL_OK)
            return result;
    }
    return CFOIL_OK;
}

static int32_t answers_restore(struct guidance *guidance, const cJSON *state, cfoil_error_info *error)
{
    const cJSON *item;
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(state, "answers"))
    {
        uint32_t before = guidance->answered;
        int32_t result = guidance_answer(guidance, text_in(item, "check"), small_of(number_in(item, "answer")), error);
        if (result != CFOIL_OK)
            return result;
        if (guidance->answered > before)
            guidance->answer_ms[guidance->order[before]] = number_in(item, "answer_ms");
    }
    return CFOIL_OK;
}

static int32_t serial_restore(struct guidance *guidance, const cJSON *state, cfoil_error_info *error)
{
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    const char *text = text_in(state, "serial");
    const cJSON *refused = cJSON_GetObjectItemCaseSensitive(state, "serial_refused");
    if (text[0] == '\0')
        return CFOIL_OK;
    int32_t result = guidance_serial_check(guidance, text, &serial);
    if (result == CFOIL_OK)
        result = guidance_serial_set(guidance, &serial, cJSON_IsTrue(refused) != 0, error);
    return result;
}

static int32_t told_restore(struct guidance *guidance, const cJSON *state, int64_t monotonic_ms,
                            cfoil_error_info *error)
{
    int64_t spent_ms = number_in(state, "spent_ms");
    int32_t result = events_restore(guidance, state, error);
    if (result == CFOIL_OK)
        result = answers_restore(guidance, state, error);
    if (result == CFOIL_OK)
        result = serial_restore(guidance, state, error);
    guidance->withdrawn = cJSON_IsTrue(cJSON_GetObjectItemCaseSensitive(state, "withdrawn")) != 0;
    guidance_time_set(guidance, monotonic_ms);
    guidance->clock.opened_ms = monotonic_ms - (spent_ms > 0 ? spent_ms : 0);
    return result;
}

struct pack_wanted guidance_state_wanted(const cJSON *state)
{
    return (struct pack_wanted){
        .currency = text_in(state, "currency"),
        .jurisdiction = text_in(state, "jurisdiction"),
        .language = text_in(state, "language"),
        .exchange = text_in(state, "currency"),
    };
}

int32_t guidance_restore(const struct memory *memory, struct pack_set *packs, const cJSON *state, int64_t monotonic_ms,
                         struct guidance **guidance, cfoil_error_info *error)
{
    *guidance = NULL;
    const char *case_id = text_in(state, "case");
    if (strcmp(text_in(state, "schema"), SCHEMA) != 0 || !text_acceptable(case_id, 36, 36))
        return error_set(error, CFOIL_E_DATA_SCHEMA, 0, area, "The saved case cannot be read: open a new one.");
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = text_in(state, "currency");
    options.value_minor = number_in(state, "value_minor");
    options.series = text_in(state, "series");
    options.jurisdiction = text_in(state, "jurisdiction");
    options.language = text_in(state, "language");
    options.lane = text_in(state, "lane");
    options.sale = text_in(state, "sale");
    options.staff = text_in(state, "staff");
    options.tools = mask_of(number_in(state, "tools"));
    options.without = mask_of(number_in(state, "without"));
    options.check_limit = mask_of(number_in(state, "check_limit"));
    options.seconds_limit = mask_of(number_in(state, "seconds_limit"));
    int32_t result = guidance_open(memory, packs, &options, case_id, guidance, error);
    if (result == CFOIL_OK)
        result = told_restore(*guidance, state, monotonic_ms, error);
    if (result == CFOIL_OK)
        return result;
    guidance_close(*guidance);
    *guidance = NULL;
    return result;
}

const char *guidance_lane(const struct guidance *guidance)
{
    return guidance->lane;
}

const char *guidance_sale(const struct guidance *guidance)
{
    return guidance->sale;
}

int64_t guidance_value_minor(const struct guidance *guidance)
{
    return guidance->note->value_minor;
}
