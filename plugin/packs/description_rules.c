/*
 * What the messages of a described device mean: event buffer, notes, and rules. The rules of money are kept here: a rule
 * gives STACKED only for a note of the table, and only where a repeated message cannot be taken for a second note.
 */
#include "model/names.h"
#include "packs/description_parts.h"

#include <string.h>

/* ---- Event buffer ---- */

static const struct field buffer_fields[] = {
    {"counter", FIELD_OBJECT, true, 1, 10},
    {"at", FIELD_INTEGER, true, 0, DESCRIBED_MESSAGE_MAX - 1},
    {"entry_bytes", FIELD_INTEGER, true, 1, DESCRIBED_BUFFER_MAX},
    {"entries", FIELD_INTEGER, true, 1, DESCRIBED_BUFFER_MAX},
    {"newest", FIELD_TEXT, true, 1, 10},
};
static const struct field counter_fields[] = {
    FIELDS_OF_A_NUMBER,
    {"first", FIELD_INTEGER, true, 0, UINT32_MAX},
    {"last", FIELD_INTEGER, true, 0, UINT32_MAX},
    {"reset", FIELD_INTEGER, false, 0, UINT32_MAX},
};

static int32_t counter_read(struct reader *reader, const cJSON *object, struct description *description)
{
    const cJSON *counter = member(object, "counter");
    reader_enter(reader, "counter");
    int32_t result = reader_object_check(reader, counter, counter_fields, FIELD_COUNT(counter_fields));
    if (result == CFOIL_OK)
        result = description_count_read(reader, counter, description, &description->buffer.counter);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

static int32_t buffer_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    static const char *const words[] = {"first", "last", NULL};
    struct described_buffer *buffer = &description->buffer;
    const cJSON *object = member(tree, "buffer");
    int32_t newest = 0;
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, "buffer");
    if (!description->polled || description->text_lines)
        return reader_fault(reader, "an event buffer is read by 'poll' from a device that sends frames");
    if (description->driver == DESCRIBED_DRIVER_DEVICE)
        return reader_fault(reader, "a device with an event buffer numbers its events, not its messages: no 'sequence' "
                                    "driven by the device");
    int32_t result = reader_object_check(reader, object, buffer_fields, FIELD_COUNT(buffer_fields));
    if (result == CFOIL_OK)
        result = counter_read(reader, object, description);
    if (result == CFOIL_OK)
        result = description_word_read(reader, object, "newest", words, &newest);
    if (result != CFOIL_OK)
        return result;
    buffer->known = true;
    buffer->at = (int32_t)member_integer(object, "at");
    buffer->entry_bytes = (uint32_t)member_integer(object, "entry_bytes");
    buffer->entries = (uint32_t)member_integer(object, "entries");
    buffer->newest_first = newest == 0;
    if (buffer->entry_bytes * buffer->entries > DESCRIBED_BUFFER_MAX)
        return reader_fault(reader, "all entries together may have %d bytes", DESCRIBED_BUFFER_MAX);
    if (buffer->counter.last - buffer->counter.first < buffer->entries)
        return reader_fault_at(reader, "counter", "must count further than the buffer has entries");
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Notes ---- */

static const struct field note_fields[] = {
    {"type", FIELD_INTEGER, true, 1, 65535},
    {"value_minor", FIELD_INTEGER, true, 1, 1000000000000},
    {"currency", FIELD_TEXT, true, 3, 3},
    {"name", FIELD_TEXT, false, 1, DESCRIBED_NAME_MAX},
};

static int32_t note_read(struct reader *reader, const cJSON *object, struct description *description)
{
    struct described_note *note = &description->notes[description->note_count];
    int32_t result = reader_object_check(reader, object, note_fields, FIELD_COUNT(note_fields));
    if (result != CFOIL_OK)
        return result;
    const char *currency = member_text(object, "currency");
    if (strspn(currency, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != 3)
        return reader_fault_at(reader, "currency", "must be the ISO 4217 code, three capital letters");
    note->type = (int32_t)member_integer(object, "type");
    note->value_minor = member_integer(object, "value_minor");
    memcpy(note->currency, currency, 4);
    memcpy(note->name, member_text(object, "name"), strlen(member_text(object, "name")) + 1);
    for (uint32_t i = 0; i < description->note_count; i++) {
        if (description->notes[i].type == note->type)
            return reader_fault_at(reader, "type", "stands twice among the notes");
        if (note->name[0] != '\0' && strcmp(description->notes[i].name, note->name) == 0)
            return reader_fault_at(reader, "name", "stands twice among the notes");
    }
    description->note_count++;
    return CFOIL_OK;
}

static int32_t notes_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    const cJSON *item;
    reader_enter(reader, "notes");
    cJSON_ArrayForEach(item, member(tree, "notes"))
    {
        reader_enter_element(reader, description->note_count);
        int32_t result = note_read(reader, item, description);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- The note of a rule ---- */

static const struct field rule_note_fields[] = {
    FIELDS_OF_A_NUMBER,
    {"type", FIELD_INTEGER, false, 1, 65535},
    {"by", FIELD_TEXT, false, 1, 10},
    {"length", FIELD_INTEGER, false, 1, DESCRIBED_NAME_MAX},
};

static int32_t fixed_note_read(struct reader *reader, const cJSON *object, const struct description *description,
                               struct described_rule *rule)
{
    if (cJSON_GetArraySize(object) != 1)
        return reader_fault(reader, "'type' names one note and stands alone");
    rule->note_by = DESCRIBED_NOTE_FIXED;
    for (uint32_t i = 0; i < description->note_count; i++) {
        if (description->notes[i].type == (int32_t)member_integer(object, "type")) {
            rule->note_index = i;
            return CFOIL_OK;
        }
    }
    return reader_fault_at(reader, "type", "is not among the notes");
}

static int32_t named_note_read(struct reader *reader, const cJSON *object, const struct description *description,
                               struct described_rule *rule)
{
    bool field = member(object, "field") != NULL;
    for (uint32_t i = 0; i < description->note_count; i++) {
        if (description->notes[i].name[0] == '\0')
            return reader_fault_at(reader, "by", "every note needs a name then");
    }
    if (field == (member(object, "length") != NULL) || member(object, "bytes") != NULL ||
        member(object, "mask") != NULL || member(object, "order") != NULL)
        return reader_fault(reader, "a name stands in a 'field', or at a place: 'at' and 'length'");
    rule->note_length = (uint32_t)member_integer(object, "length");
    return CFOIL_OK;
}

static int32_t note_by_read(struct reader *reader, const cJSON *object, const struct description *description,
                            struct described_rule *rule)
{
    static const char *const ways[] = {"type", "name", NULL};
    int32_t way = 0;
    if (member(object, "by") == NULL)
        return reader_fault(reader, "which note? give 'type', or 'by' and where it stands");
    int32_t result = description_word_read(reader, object, "by", ways, &way);
    if (result == CFOIL_OK)
        result = description_number_read(reader, object, description, &rule->note_number);
    if (result != CFOIL_OK)
        return result;
    rule->note_by = way == 0 ? DESCRIBED_NOTE_TYPE : DESCRIBED_NOTE_NAME;
    if (way == 1)
        return named_note_read(reader, object, description, rule);
    return member(object, "length") == NULL ? CFOIL_OK
                                            : reader_fault_at(reader, "length", "goes with the name of a note");
}

static int32_t rule_note_read(struct reader *reader, const cJSON *object, const struct description *description,
                              struct described_rule *rule)
{
    const cJSON *note = member(object, "note");
    if (note == NULL)
        return CFOIL_OK;
    reader_enter(reader, "note");
    int32_t result = reader_object_check(reader, note, rule_note_fields, FIELD_COUNT(rule_note_fields));
    if (result != CFOIL_OK)
        return result;
    if (description->note_count == 0)
        return reader_fault(reader, "the description has no 'notes'");
    if (member(note, "type") != NULL)
        result = fixed_note_read(reader, note, description, rule);
    else
        result = note_by_read(reader, note, description, rule);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* ---- Words of the model ---- */

static int32_t word_find(const char *(*name)(int32_t code), int32_t last, const char *word)
{
    for (int32_t code = 0; code <= last; code++) {
        if (strcmp(name(code), word) == 0)
            return code;
    }
    return -1;
}

/* What a device can say of itself; the others are for the library to tell. */
static bool condition_sayable(int32_t condition)
{
    return (condition >= CFOIL_CONDITION_RESTARTED && condition <= CFOIL_CONDITION_UNKNOWN_NOTE_STACKED) ||
           condition == CFOIL_CONDITION_BARCODE;
}

static int32_t condition_word_read(struct reader *reader, const cJSON *object, struct described_rule *rule)
{
    if ((member(object, "condition") != NULL) != (rule->kind == CFOIL_KIND_DEVICE))
        return reader_fault(reader, "event 'device' and 'condition' go together");
    if (rule->kind != CFOIL_KIND_DEVICE)
        return CFOIL_OK;
    rule->condition = word_find(name_condition, CFOIL_CONDITION_IDENTIFIED, member_text(object, "condition"));
    return condition_sayable(rule->condition)
               ? CFOIL_OK
               : reader_fault_at(reader, "condition",
                                 "must be restarted, jam_reachable, jam_safe, stacker_removed, stacker_in_place, "
                                 "stacker_full, fault, fault_cleared, tampering, unknown_note_stacked or barcode");
}

static int32_t may_mean_read(struct reader *reader, const cJSON *object, struct described_rule *rule)
{
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "may_mean");
    cJSON_ArrayForEach(item, member(object, "may_mean"))
    {
        reader_enter_element(reader, index++);
        int32_t reason = cJSON_IsString(item) ? name_reason_find(item->valuestring) : -1;
        if (reason <= CFOIL_REASON_NONE)
            return reader_fault(reader, "must be a reason, as in 'reason'");
        rule->reasons_possible |= 1u << reason;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t reason_read(struct reader *reader, const cJSON *object, struct described_rule *rule)
{
    bool given = member(object, "reason") != NULL;
    bool has_reason = rule->kind == CFOIL_KIND_REJECTED || rule->kind == CFOIL_KIND_DEVICE;
    if ((given || member(object, "may_mean") != NULL) && !has_reason)
        return reader_fault_at(reader, given ? "reason" : "may_mean", "goes with event 'rejected' or 'device'");
    if (rule->kind == CFOIL_KIND_REJECTED && !given)
        return reader_fault(reader, "the key 'reason' is missing: why was the note not taken?");
    if (rule->kind == CFOIL_KIND_DEVICE)
        rule->reason = rule->condition == CFOIL_CONDITION_TAMPERING ? CFOIL_REASON_TAMPERING : CFOIL_REASON_DEVICE;
    if (given)
        rule->reason = name_reason_find(member_text(object, "reason"));
    if (given && rule->reason <= CFOIL_REASON_NONE)
        return reader_fault_at(reader, "reason",
                               "must be authenticity, not_recognised, handling, not_enabled, device_condition or "
                               "tampering");
    int32_t result = may_mean_read(reader, object, rule);
    if (result != CFOIL_OK)
        return result;
    uint32_t bit = rule->reason != CFOIL_REASON_NONE ? 1u << rule->reason : 0;
    if (member(object, "may_mean") != NULL && (rule->reasons_possible & bit) == 0)
        return reader_fault_at(reader, "may_mean", "must hold the reason itself, too");
    rule->reasons_possible |= bit;
    return CFOIL_OK;
}

static const struct field finding_fields[] = {
    {"channel", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"strength", FIELD_TEXT, true, 1, TEXT_ID_MAX},
};

static int32_t finding_read(struct reader *reader, const cJSON *item, struct described_rule *rule)
{
    int32_t result = reader_object_check(reader, item, finding_fields, FIELD_COUNT(finding_fields));
    if (result != CFOIL_OK)
        return result;
    cfoil_finding *finding = &rule->findings[rule->finding_count];
    finding->origin = CFOIL_ORIGIN_DEVICE;
    finding->channel = name_channel_find(member_text(item, "channel"));
    finding->strength = word_find(name_strength, CFOIL_STRENGTH_STRONG, member_text(item, "strength"));
    if (finding->channel < 0)
        return reader_fault_at(reader, "channel",
                               "must be not_told, image, ultraviolet, infrared, magnetic, thread, size, thickness or "
                               "transport");
    if (finding->strength <= CFOIL_STRENGTH_NONE)
        return reader_fault_at(reader, "strength", "must be weak, clear or strong");
    if (finding->channel == CFOIL_CHANNEL_UNKNOWN && finding->strength != CFOIL_STRENGTH_WEAK)
        return reader_fault_at(reader, "strength", "must be weak when the device does not tell the channel");
    rule->finding_count++;
    return CFOIL_OK;
}

static int32_t findings_read(struct reader *reader, const cJSON *object, struct described_rule *rule)
{
    const cJSON *list = member(object, "findings");
    const cJSON *item;
    if (list != NULL && rule->kind != CFOIL_KIND_REJECTED)
        return reader_fault_at(reader, "findings", "goes with event 'rejected'");
    reader_enter(reader, "findings");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, rule->finding_count);
        int32_t result = finding_read(reader, item, rule);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Texts ---- */

/* The end of one part in braces, or NULL when it is of no known form. */
static const char *part_end(const char *part, bool lines)
{
    bool field = part[0] == 'f';
    if (strncmp(part, "line}", 5) == 0)
        return lines ? part + 4 : NULL;
    const char *digits = field || part[0] == 'x' ? part + 1 : part;
    if (!field && digits[0] == '-')
        digits++;
    size_t count = strspn(digits, "0123456789");
    bool good = count >= 1 && count <= 3 && digits[count] == '}' && (!field || (lines && digits[0] != '0'));
    return good ? digits + count : NULL;
}

static int32_t raw_text_read(struct reader *reader, const cJSON *object, const struct description *description,
                             char target[DESCRIBED_RAW_TEXT_MAX + 1])
{
    const char *form = member_text(object, "raw_text");
    for (const char *at = form; *at != '\0'; at++) {
        if (*at == '{')
            at = part_end(at + 1, description->text_lines);
        if (at == NULL)
            return reader_fault_at(reader, "raw_text",
                                   "braces hold a place such as {3}, {x3} or {-1}; of lines also "
                                   "{f2} and {line}");
    }
    memcpy(target, form, strlen(form) + 1);
    return CFOIL_OK;
}

/* ---- One rule ---- */

static const struct field rule_fields[] = {
    {"when", FIELD_ARRAY, true, 0, DESCRIBED_CONDITIONS_MAX},
    {"event", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"note", FIELD_OBJECT, false, 1, 10},
    {"condition", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"reason", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"may_mean", FIELD_ARRAY, false, 1, 6},
    {"findings", FIELD_ARRAY, false, 1, CFOIL_FINDINGS_MAX},
    {"halts", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"each_message", FIELD_FLAG, false, 0, 0},
    {"go_on", FIELD_FLAG, false, 0, 0},
    {"after_held", FIELD_FLAG, false, 0, 0},
    {"raw_text", FIELD_TEXT, false, 1, DESCRIBED_RAW_TEXT_MAX},
    {"text", FIELD_TEXT, false, 1, DESCRIBED_TEXT_MAX},
};

static int32_t flags_read(struct reader *reader, const cJSON *object, const struct description *description,
                          struct described_rule *rule)
{
    static const char *const halts[] = {"until_accept", "until_clear", NULL};
    int32_t halt = -1;
    int32_t result = description_word_read(reader, object, "halts", halts, &halt);
    if (result != CFOIL_OK)
        return result;
    rule->halt = (enum described_halt)(halt + 1);
    rule->each_message = cJSON_IsTrue(member(object, "each_message"));
    rule->go_on = cJSON_IsTrue(member(object, "go_on"));
    rule->after_held = cJSON_IsTrue(member(object, "after_held"));
    if (rule->halt != DESCRIBED_HALT_NONE && rule->kind != CFOIL_KIND_DEVICE && rule->kind != CFOIL_KIND_REJECTED)
        return reader_fault_at(reader, "halts", "goes with event 'device' or 'rejected'");
    if (rule->each_message && (description->buffer.known || description->driver == DESCRIBED_DRIVER_NONE))
        return reader_fault_at(reader, "each_message", "needs a 'sequence', by which a repeated message is known");
    if (rule->after_held && rule->kind != CFOIL_KIND_STACKED)
        return reader_fault_at(reader, "after_held", "goes with event 'stacked'");
    bool silent = rule->kind == CFOIL_KIND_NONE;
    if (silent == (member(object, "text") != NULL))
        return reader_fault(reader, silent ? "event 'nothing' has no 'text'" : "the key 'text' is missing");
    if (silent && member(object, "raw_text") != NULL)
        return reader_fault_at(reader, "raw_text", "event 'nothing' has none");
    return CFOIL_OK;
}

static int32_t kind_read(struct reader *reader, const cJSON *object, struct described_rule *rule)
{
    static const char *const kinds[] = {"nothing", "held", "stacked", "returned", "rejected", "device", NULL};
    return description_word_read(reader, object, "event", kinds, &rule->kind); /* in the order of CFOIL_KIND_* */
}

static int32_t money_check(struct reader *reader, const struct description *description,
                           const struct described_rule *rule)
{
    bool held = rule->kind == CFOIL_KIND_HELD;
    bool stacked = rule->kind == CFOIL_KIND_STACKED;
    if (rule->kind == CFOIL_KIND_NONE && rule->note_by != DESCRIBED_NOTE_NONE)
        return reader_fault_at(reader, "note", "event 'nothing' has none");
    if ((held || stacked) && rule->note_by == DESCRIBED_NOTE_NONE)
        return reader_fault(reader, "the key 'note' is missing: which note of the table is it?");
    if (held && description->stack.send.length == 0)
        return reader_fault(reader, "a held note needs 'held': how is it stacked or returned?");
    bool numbered = description->driver != DESCRIBED_DRIVER_NONE && description->check.kind != DESCRIBED_CHECK_NONE;
    if (stacked && !description->buffer.known && !numbered && !rule->after_held)
        return reader_fault(reader,
                            "a message that comes twice or damaged would be taken for money: give a 'buffer', a "
                            "'sequence' with a 'check', or \"after_held\": true");
    return CFOIL_OK;
}

static int32_t rule_read(struct reader *reader, const cJSON *object, const struct description *description,
                         struct described_rule *rule)
{
    int32_t result = reader_object_check(reader, object, rule_fields, FIELD_COUNT(rule_fields));
    if (result == CFOIL_OK)
        result = description_conditions_read(reader, object, "when", description, description->buffer.known,
                                             &rule->when);
    if (result == CFOIL_OK)
        result = kind_read(reader, object, rule);
    if (result == CFOIL_OK)
        result = condition_word_read(reader, object, rule);
    if (result == CFOIL_OK)
        result = reason_read(reader, object, rule);
    if (result == CFOIL_OK)
        result = findings_read(reader, object, rule);
    if (result == CFOIL_OK)
        result = flags_read(reader, object, description, rule);
    if (result == CFOIL_OK)
        result = rule_note_read(reader, object, description, rule);
    if (result == CFOIL_OK)
        result = raw_text_read(reader, object, description, rule->raw_text);
    if (result != CFOIL_OK)
        return result;
    const char *text = member_text(object, "text");
    memcpy(rule->text, text, strlen(text) + 1);
    return money_check(reader, description, rule);
}

static int32_t after_held_check(struct reader *reader, const struct description *description)
{
    bool held = false;
    for (uint32_t i = 0; i < description->rule_count; i++)
        held = held || description->rules[i].kind == CFOIL_KIND_HELD;
    for (uint32_t i = 0; i < description->rule_count && !held; i++) {
        if (!description->rules[i].after_held)
            continue;
        reader_enter(reader, "rules");
        reader_enter_element(reader, i);
        return reader_fault_at(reader, "after_held", "no rule gives 'held'");
    }
    return CFOIL_OK;
}

int32_t description_rules_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    int32_t result = buffer_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = raw_text_read(reader, tree, description, description->raw_text);
    if (result == CFOIL_OK)
        result = notes_read(reader, tree, description);
    if (result != CFOIL_OK)
        return result;
    const cJSON *item;
    reader_enter(reader, "rules");
    cJSON_ArrayForEach(item, member(tree, "rules"))
    {
        reader_enter_element(reader, description->rule_count);
        result = rule_read(reader, item, description, &description->rules[description->rule_count]);
        if (result != CFOIL_OK)
            return result;
        description->rule_count++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return after_held_check(reader, description);
}
