/*
 * Channel by check by note: where to look by hand when a machine names what it doubted.
 */
#include "model/json.h"
#include "model/names.h"
#include "packs/pack_data.h"

bool pack_check_same_physics(const struct pack_check *check, int32_t channel)
{
    if ((check->channels & 1u << channel) == 0)
        return false;
    switch (channel) {
    case CFOIL_CHANNEL_ULTRAVIOLET:
        return (check->tool & CFOIL_TOOL_UV_A) != 0;
    case CFOIL_CHANNEL_SIZE:
        return (check->tool & (CFOIL_TOOL_RULER | CFOIL_TOOL_KNOWN_NOTE)) != 0;
    case CFOIL_CHANNEL_THICKNESS:
        return check->sense == CFOIL_SENSE_FEEL;
    default:
        return false;
    }
}

static bool tools_add(cJSON *object, uint32_t tools)
{
    static const struct {
        uint32_t tool;
        const char *word;
    } words[] = {
        {CFOIL_TOOL_MAGNIFIER, "magnifier"},
        {CFOIL_TOOL_UV_A, "uv_a"},
        {CFOIL_TOOL_RULER, "ruler"},
        {CFOIL_TOOL_KNOWN_NOTE, "known_note"},
    };
    cJSON *list = json_array_add(object, "tools");
    bool good = list != NULL;
    for (size_t i = 0; good && i < sizeof words / sizeof words[0]; i++)
        good = (tools & words[i].tool) == 0 || json_text_add(list, NULL, words[i].word);
    return good;
}

static bool channels_add(cJSON *object, uint32_t channels, int32_t left_out)
{
    cJSON *list = json_array_add(object, "also_speaks_to");
    bool good = list != NULL;
    for (int32_t channel = CFOIL_CHANNEL_IMAGE; good && channel <= CFOIL_CHANNEL_TRANSPORT; channel++) {
        if (channel != left_out && (channels & 1u << channel) != 0)
            good = json_text_add(list, NULL, name_channel(channel));
    }
    return good;
}

/* The check as an answer to one channel. That it speaks to others too is the ambiguity: a difference in it does not say
 * which of them the machine meant. */
static bool check_add(cJSON *list, const struct pack_evidence *evidence, const struct pack_check *check,
                      int32_t channel)
{
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "check", check->id) && json_text_add(item, "feature", check->feature) &&
           json_text_add(item, "group", check->group) && json_text_add(item, "sense", name_sense(check->sense)) &&
           json_text_add(item, "rank", feature_rank_name(pack_feature_rank(evidence, check->feature))) &&
           json_flag_add(item, "ends_the_case", check->ends) && tools_add(item, check->tool) &&
           channels_add(item, check->channels, channel) &&
           json_text_add(item, "dependence",
                         pack_check_same_physics(check, channel) ? "same_physics" : "other_physics");
}

static bool channel_add(cJSON *object, const struct pack_evidence *evidence, const struct pack_note *note,
                        int32_t channel)
{
    cJSON *list = json_array_add(object, name_channel(channel));
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < note->check_count; i++) {
        if ((note->checks[i].channels & 1u << channel) != 0)
            good = check_add(list, evidence, &note->checks[i], channel);
    }
    return good;
}

static bool note_add(cJSON *list, const struct pack_evidence *evidence, const struct pack_note *note)
{
    cJSON *item = json_object_add(list, NULL);
    bool good = json_integer_add(item, "value_minor", note->value_minor) && json_text_add(item, "series", note->series);
    cJSON *channels = good ? json_object_add(item, "channels") : NULL;
    good = channels != NULL;
    for (int32_t channel = CFOIL_CHANNEL_IMAGE; good && channel <= CFOIL_CHANNEL_TRANSPORT; channel++)
        good = channel_add(channels, evidence, note, channel);
    return good;
}

cJSON *pack_matrix(const struct pack_evidence *evidence, const struct pack_currency *currency)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.matrix/1") &&
                json_text_add(object, "currency", currency->code) &&
                json_text_add(object, "confidence", confidence_name(CONFIDENCE_PRACTICE)) &&
                json_text_add(
                    object, "note",
                    "Which check answers which channel is common practice; an empty list means that no manual "
                    "check is known to speak to it. Checks of one group, and checks of the same physics as the "
                    "machine, depend on each other and count once.");
    cJSON *notes = good ? json_array_add(object, "notes") : NULL;
    good = notes != NULL;
    for (uint32_t i = 0; good && i < currency->note_count; i++)
        good = note_add(notes, evidence, &currency->notes[i]);
    if (good)
        return object;
    cJSON_Delete(object);
    return NULL;
}
