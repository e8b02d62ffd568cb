/*
 * What is said to a described device and how its answers are known: bytes, exchanges, commands.
 */
#include "packs/description_parts.h"

#include <string.h>

/* ---- Bytes to send ---- */

enum { PLAIN = 0, LENGTH = 'L', CHECK = 'C' };

/* What has to stand at a place of a message of that length: a byte, or what is filled in. */
static int place_kind(const struct description *description, uint32_t index, uint32_t length)
{
    const struct described_frame *frame = &description->frame;
    const struct described_check *check = &description->check;
    uint32_t at = (uint32_t)frame->length.at;
    if (frame->has_length && index >= at && index < at + frame->length.bytes)
        return LENGTH;
    for (uint32_t i = 0; i < check->count; i++) {
        int64_t place = check->at[i] < 0 ? (int64_t)length + check->at[i] : check->at[i];
        if (place == (int64_t)index)
            return CHECK;
    }
    return PLAIN;
}

/* "02 LL 10 CC": bytes, and which of them are filled in. False = not of that form. */
static bool bytes_parse(const char *text, struct described_bytes *send, char kinds[DESCRIBED_SEND_MAX])
{
    for (uint32_t i = 0; i < DESCRIBED_SEND_MAX; i++) {
        bool filled = (text[0] == LENGTH || text[0] == CHECK) && text[1] == text[0];
        int32_t high = description_digit_of(text[0]);
        int32_t low = high < 0 ? -1 : description_digit_of(text[1]);
        if (!filled && low < 0)
            return false;
        kinds[i] = filled ? text[0] : PLAIN;
        /* "CC" is also a hexadecimal number: it stands for the check where the check is, which is looked at below. */
        send->bytes[i] = (uint8_t)(low < 0 ? 0 : high << 4 | low);
        send->length = i + 1;
        text += 2;
        if (*text == '\0')
            return true;
        if (*text++ != ' ')
            return false;
    }
    return false;
}

static int32_t places_check(struct reader *reader, const struct description *description, struct described_bytes *send,
                            const char *kinds)
{
    for (uint32_t i = 0; i < send->length; i++) {
        int kind = place_kind(description, i, send->length);
        if (kind == LENGTH && kinds[i] != LENGTH)
            return reader_fault(reader, "byte %u is the length: write LL there", (unsigned)i);
        if (kind == CHECK && kinds[i] != CHECK)
            return reader_fault(reader, "byte %u is of the check: write CC there", (unsigned)i);
        if (kinds[i] == LENGTH && kind != LENGTH)
            return reader_fault(reader, "byte %u is not the length", (unsigned)i);
        if (kind != PLAIN)
            send->bytes[i] = 0;
    }
    return CFOIL_OK;
}

static bool place_inside(int32_t at, uint32_t bytes, uint32_t length)
{
    int64_t place = at < 0 ? (int64_t)length + at : at;
    return place >= 0 && place + bytes <= (int64_t)length;
}

static bool check_inside(const struct described_check *check, uint32_t length)
{
    bool inside = check->kind == DESCRIBED_CHECK_NONE ||
                  (place_inside(check->from, 1, length) && place_inside(check->to, 1, length));
    for (uint32_t i = 0; i < check->count; i++)
        inside = inside && place_inside(check->at[i], 1, length);
    return inside;
}

static int32_t sequence_check(struct reader *reader, const struct description *description,
                              const struct described_bytes *send)
{
    const struct described_number *number = &description->sequence.number;
    if (description->driver == DESCRIBED_DRIVER_NONE)
        return CFOIL_OK;
    if (!place_inside(number->at, number->bytes, send->length))
        return reader_fault(reader, "too short: it has no place for the sequence");
    uint32_t at = number->at < 0 ? send->length - (uint32_t)-number->at : (uint32_t)number->at;
    for (uint32_t i = 0; i < number->bytes; i++) {
        uint32_t mask = number->mask >> (8 * (number->big_endian ? number->bytes - 1 - i : i));
        if ((send->bytes[at + i] & mask) != 0)
            return reader_fault(reader, "write 0 for the bits of the sequence in byte %u; they are filled in",
                                (unsigned)(at + i));
    }
    return CFOIL_OK;
}

static int32_t frame_bytes_check(struct reader *reader, const struct description *description,
                                 struct described_bytes *send, const char *kinds)
{
    const struct described_frame *frame = &description->frame;
    if (!check_inside(&description->check, send->length) ||
        (frame->has_length && !place_inside(frame->length.at, frame->length.bytes, send->length)))
        return reader_fault(reader, "too short: it has no place for the length or the check");
    int32_t result = places_check(reader, description, send, kinds);
    if (result != CFOIL_OK)
        return result;
    if (send->length < frame->begin_length + frame->end_length ||
        memcmp(send->bytes, frame->begin, frame->begin_length) != 0 ||
        memcmp(send->bytes + send->length - frame->end_length, frame->end, frame->end_length) != 0)
        return reader_fault(reader, "must begin and end with the bytes that the frame names");
    uint32_t most = frame->length.mask >> frame->length.shift;
    if (frame->has_length && (send->length < frame->not_counted || send->length - frame->not_counted > most))
        return reader_fault(reader, "its length does not fit into the length field");
    return sequence_check(reader, description, send);
}

static int32_t line_bytes_read(struct reader *reader, const struct description *description, const char *text,
                               bool acknowledges, struct described_bytes *send)
{
    size_t length = strlen(text);
    if (length > DESCRIBED_SEND_MAX)
        return reader_fault(reader, "the text is too long; at most %d bytes", DESCRIBED_SEND_MAX);
    for (size_t i = 0; i < length; i++) {
        if (text[i] < ' ' || text[i] > '~')
            return reader_fault(reader, "may hold printable ASCII characters only; the line end is added");
    }
    bool numbered = strstr(text, "{sequence}") != NULL;
    if (description->driver == DESCRIBED_DRIVER_HOST && !numbered)
        return reader_fault(reader, "must hold {sequence}, which the host drives");
    if (numbered && description->driver != DESCRIBED_DRIVER_HOST &&
        !(acknowledges && description->driver == DESCRIBED_DRIVER_DEVICE))
        return reader_fault(reader, "{sequence} is not known here");
    memcpy(send->bytes, text, length);
    send->length = (uint32_t)length;
    return CFOIL_OK;
}

/* The message at object[key], which must be a text; a missing one leaves *send empty. */
static int32_t send_read(struct reader *reader, const cJSON *object, const char *key,
                         const struct description *description, bool acknowledges, struct described_bytes *send)
{
    char kinds[DESCRIBED_SEND_MAX];
    const char *text = member_text(object, key);
    if (member(object, key) == NULL)
        return CFOIL_OK;
    reader_enter(reader, key);
    int32_t result;
    if (description->text_lines)
        result = line_bytes_read(reader, description, text, acknowledges, send);
    else if (!bytes_parse(text, send, kinds))
        result = reader_fault(reader, "must be up to %d bytes such as \"02 LL 9F CC\" (LL length, CC check)",
                              DESCRIBED_SEND_MAX);
    else
        result = frame_bytes_check(reader, description, send, kinds);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* ---- Exchanges ---- */

static bool has(const cJSON *object, const char *key)
{
    return member(object, key) != NULL;
}

static const struct field exchange_fields[] = {
    {"send", FIELD_TEXT, true, 1, 3 * DESCRIBED_SEND_MAX},
    {"expect", FIELD_ARRAY, false, 1, DESCRIBED_CONDITIONS_MAX},
    {"answer", FIELD_FLAG, false, 0, 0},
    {"optional", FIELD_FLAG, false, 0, 0},
    {"proves", FIELD_FLAG, false, 0, 0},
    {"events", FIELD_FLAG, false, 0, 0},
    {"identity", FIELD_OBJECT, false, 1, 10},
    {"answer_ms", FIELD_INTEGER, false, 5, 30000},
    {"tries", FIELD_INTEGER, false, 1, 10},
};
static const struct field identity_fields[] = {
    FIELDS_OF_A_NUMBER,
    {"to", FIELD_INTEGER, false, -DESCRIBED_MESSAGE_MAX, DESCRIBED_MESSAGE_MAX - 1},
};

static int32_t identity_read(struct reader *reader, const cJSON *object, const struct description *description,
                             struct described_exchange *exchange)
{
    const cJSON *identity = member(object, "identity");
    if (identity == NULL)
        return CFOIL_OK;
    reader_enter(reader, "identity");
    int32_t result = reader_object_check(reader, identity, identity_fields, FIELD_COUNT(identity_fields));
    if (result != CFOIL_OK)
        return result;
    exchange->tells_identity = true;
    if (!has(identity, "to")) {
        result = description_number_read(reader, identity, description, &exchange->identity);
        if (result != CFOIL_OK)
            return result;
        if (exchange->identity.field != 0)
            exchange->identity.bytes = 4; /* a number, not a text */
    } else {
        if (!has(identity, "at") || has(identity, "bytes") || has(identity, "mask") || has(identity, "field") ||
            has(identity, "order") || member_integer(identity, "at") < 0)
            return reader_fault(reader, "a text goes from 'at', counted from the beginning, to 'to'");
        exchange->identity.at = (int32_t)member_integer(identity, "at");
        exchange->identity_to = (int32_t)member_integer(identity, "to");
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static uint32_t tries_of(const cJSON *object, uint32_t otherwise)
{
    return has(object, "tries") ? (uint32_t)member_integer(object, "tries") : otherwise;
}

static int32_t exchange_shape_check(struct reader *reader, const struct description *description,
                                    const struct described_exchange *exchange)
{
    bool answered = exchange->expect.count > 0 || exchange->events || exchange->tells_identity || exchange->proves;
    if (exchange->silent && answered)
        return reader_fault_at(reader, "answer", "no answer comes: nothing can be expected of it");
    if (!exchange->silent && !description->polled && exchange->expect.count == 0)
        return reader_fault(reader, "of a device that talks by itself the answer must be told by 'expect'");
    if (exchange->proves && (exchange->expect.count == 0 || exchange->optional))
        return reader_fault_at(reader, "proves", "needs 'expect', and cannot be optional");
    return CFOIL_OK;
}

static int32_t exchange_read(struct reader *reader, const cJSON *object, const struct description *description,
                             struct described_exchange *exchange)
{
    int32_t result = reader_object_check(reader, object, exchange_fields, FIELD_COUNT(exchange_fields));
    if (result == CFOIL_OK)
        result = send_read(reader, object, "send", description, false, &exchange->send);
    if (result == CFOIL_OK)
        result = description_conditions_read(reader, object, "expect", description, false, &exchange->expect);
    if (result == CFOIL_OK)
        result = identity_read(reader, object, description, exchange);
    if (result != CFOIL_OK)
        return result;
    exchange->silent = cJSON_IsFalse(member(object, "answer"));
    exchange->optional = cJSON_IsTrue(member(object, "optional"));
    exchange->proves = cJSON_IsTrue(member(object, "proves"));
    exchange->events = cJSON_IsTrue(member(object, "events"));
    exchange->answer_us = has(object, "answer_ms") ? 1000 * (uint64_t)member_integer(object, "answer_ms")
                                                   : description->poll.answer_us;
    exchange->tries = tries_of(object, exchange->optional ? 2 : 4);
    return exchange_shape_check(reader, description, exchange);
}

/* An exchange that is an object at a key; a missing one leaves it empty. */
static int32_t exchange_at_read(struct reader *reader, const cJSON *object, const char *key,
                                const struct description *description, struct described_exchange *exchange)
{
    if (!has(object, key))
        return CFOIL_OK;
    reader_enter(reader, key);
    int32_t result = exchange_read(reader, member(object, key), description, exchange);
    if (result == CFOIL_OK && (exchange->proves || exchange->tells_identity || exchange->optional))
        result = reader_fault(reader, "proves, optional and identity are for the steps of 'start'");
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

static int32_t exchanges_read(struct reader *reader, const cJSON *object, const char *key,
                              const struct description *description, struct described_exchange *items, uint32_t *count)
{
    const cJSON *item;
    reader_enter(reader, key);
    cJSON_ArrayForEach(item, member(object, key))
    {
        reader_enter_element(reader, *count);
        int32_t result = exchange_read(reader, item, description, &items[*count]);
        if (result != CFOIL_OK)
            return result;
        (*count)++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- The parts of the talk ---- */

static const struct field poll_fields[] = {
    {"send", FIELD_TEXT, true, 1, 3 * DESCRIBED_SEND_MAX},
    {"send_accepting", FIELD_TEXT, false, 1, 3 * DESCRIBED_SEND_MAX},
    {"every_ms", FIELD_INTEGER, true, 10, 60000},
    {"expect", FIELD_ARRAY, false, 1, DESCRIBED_CONDITIONS_MAX},
    {"answer_ms", FIELD_INTEGER, false, 5, 30000},
    {"tries", FIELD_INTEGER, false, 1, 10},
};
static const struct field acknowledge_fields[] = {
    {"send", FIELD_TEXT, true, 1, 3 * DESCRIBED_SEND_MAX},
    {"which", FIELD_TEXT, false, 1, 10},
};
static const struct field accept_fields[] = {
    {"none", FIELD_ARRAY, true, 1, DESCRIBED_LIST_MAX},
    {"hold", FIELD_ARRAY, false, 1, DESCRIBED_LIST_MAX},
    {"all", FIELD_ARRAY, false, 1, DESCRIBED_LIST_MAX},
};
static const struct field held_fields[] = {
    {"stack", FIELD_OBJECT, true, 1, 10},
    {"return", FIELD_OBJECT, true, 1, 10},
    {"extend", FIELD_OBJECT, false, 1, 10},
    {"extend_every_ms", FIELD_INTEGER, false, 100, 60000},
};
static const struct field periodic_fields[] = {
    {"exchange", FIELD_OBJECT, true, 1, 10},
    {"every_ms", FIELD_INTEGER, true, 100, 60000},
};

static int32_t poll_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    const cJSON *poll = member(tree, "poll");
    if (poll == NULL)
        return CFOIL_OK;
    reader_enter(reader, "poll");
    int32_t result = reader_object_check(reader, poll, poll_fields, FIELD_COUNT(poll_fields));
    if (result == CFOIL_OK)
        result = send_read(reader, poll, "send", description, false, &description->poll.send);
    if (result == CFOIL_OK)
        result = send_read(reader, poll, "send_accepting", description, false, &description->poll_accepting);
    if (result == CFOIL_OK)
        result = description_conditions_read(reader, poll, "expect", description, false, &description->poll.expect);
    if (result != CFOIL_OK)
        return result;
    description->poll.events = true;
    description->poll.tries = tries_of(poll, 4);
    if (has(poll, "answer_ms"))
        description->poll.answer_us = 1000 * (uint64_t)member_integer(poll, "answer_ms");
    description->poll_us = 1000 * (uint64_t)member_integer(poll, "every_ms");
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t acknowledge_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    static const char *const words[] = {"events", "all", NULL};
    const cJSON *object = member(tree, "acknowledge");
    int32_t which = 0;
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, "acknowledge");
    int32_t result = reader_object_check(reader, object, acknowledge_fields, FIELD_COUNT(acknowledge_fields));
    if (result == CFOIL_OK)
        result = description_word_read(reader, object, "which", words, &which);
    if (result == CFOIL_OK)
        result = send_read(reader, object, "send", description, true, &description->acknowledge);
    description->acknowledge_all = which == 1;
    if (result == CFOIL_OK && description->driver != DESCRIBED_DRIVER_DEVICE)
        result = reader_fault(reader, "a device that repeats what is not acknowledged must number its messages: give "
                                      "'sequence' with driven_by device");
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

static int32_t accept_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    static const char *const keys[] = {"none", "hold", "all"};
    const cJSON *object = member(tree, "accept");
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, "accept");
    int32_t result = reader_object_check(reader, object, accept_fields, FIELD_COUNT(accept_fields));
    for (int32_t i = 0; i <= CFOIL_ACCEPT_ALL && result == CFOIL_OK; i++) {
        struct described_exchanges *list = &description->accept[i];
        list->known = has(object, keys[i]);
        if (list->known)
            result = exchanges_read(reader, object, keys[i], description, list->items, &list->count);
    }
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

static int32_t held_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    const cJSON *object = member(tree, "held");
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, "held");
    int32_t result = reader_object_check(reader, object, held_fields, FIELD_COUNT(held_fields));
    if (result == CFOIL_OK)
        result = exchange_at_read(reader, object, "stack", description, &description->stack);
    if (result == CFOIL_OK)
        result = exchange_at_read(reader, object, "return", description, &description->give_back);
    if (result == CFOIL_OK)
        result = exchange_at_read(reader, object, "extend", description, &description->hold);
    if (result != CFOIL_OK)
        return result;
    if (has(object, "extend") != has(object, "extend_every_ms"))
        return reader_fault(reader, "extend and extend_every_ms go together");
    description->hold_every_us = 1000 * (uint64_t)member_integer(object, "extend_every_ms");
    reader_leave(reader);
    return CFOIL_OK;
}

/* "self_check" and "watch": an exchange that is made again and again. */
static int32_t periodic_read(struct reader *reader, const cJSON *tree, const char *key,
                             const struct description *description, struct described_exchange *exchange,
                             uint64_t *every_us)
{
    const cJSON *object = member(tree, key);
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, key);
    int32_t result = reader_object_check(reader, object, periodic_fields, FIELD_COUNT(periodic_fields));
    if (result == CFOIL_OK)
        result = exchange_at_read(reader, object, "exchange", description, exchange);
    if (result != CFOIL_OK)
        return result;
    if (exchange->expect.count == 0 || exchange->events)
        return reader_fault(reader,
                            "'expect' must tell how the answer looks when all is well; 'events' has no place here");
    *every_us = 1000 * (uint64_t)member_integer(object, "every_ms");
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t periodics_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    int32_t result = periodic_read(reader, tree, "self_check", description, &description->self_check,
                                   &description->self_check_us);
    if (result == CFOIL_OK)
        result = periodic_read(reader, tree, "watch", description, &description->watch, &description->watch_us);
    if (result == CFOIL_OK && description->watch.send.length > 0 && !description->accept[0].known)
        result = reader_fault_at(reader, "watch", "needs 'accept': what was set is watched");
    return result;
}

/* Nothing that changes the device may be sent before it has proved to be of the right kind. */
static int32_t proof_check(struct reader *reader, const struct description *description)
{
    bool needed = description->polled || description->start_count > 0 || description->accept[0].known ||
                  description->stack.send.length > 0 || description->self_check.send.length > 0;
    uint32_t proofs = 0;
    for (uint32_t i = 0; i < description->start_count; i++)
        proofs += description->start[i].proves ? 1 : 0;
    if (needed && proofs == 0)
        return reader_fault(reader, "'start' needs a step with \"proves\": true: how is this kind of device known?");
    return CFOIL_OK;
}

int32_t description_talk_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    int32_t result = exchanges_read(reader, tree, "start", description, description->start, &description->start_count);
    if (result == CFOIL_OK)
        result = acknowledge_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = accept_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = held_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = periodics_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = poll_read(reader, tree, description);
    return result == CFOIL_OK ? proof_check(reader, description) : result;
}
