/* What does the device answer to each command? One row a header; a header that is not here meets with silence.
 * Headers and data layouts: ccTalk generic specification, part 2; the bill commands (159 to 149) are from memory. */
#include "device.h"

#include <string.h>

enum { ANY_LENGTH = -1, ESCROW_EMPTY = 254, ROUTE_FAILED = 255, ROUTE_RETURN = 0, ROUTE_STACK = 1, ROUTE_HOLD = 255 };

typedef void answer(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms);

static void reply_bytes(struct reply *reply, const void *bytes, size_t length)
{
    memcpy(reply->data + reply->length, bytes, length);
    reply->length += length;
}

static void reply_byte(struct reply *reply, long byte)
{
    reply->data[reply->length++] = (uint8_t)byte;
}

/* Multi-byte numbers are sent least significant byte first. */
static void reply_number(struct reply *reply, long number, int bytes)
{
    for (int i = 0; i < bytes; i++)
        reply_byte(reply, number >> (8 * i) & 0xFF);
}

static void answer_ack(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)device;
    (void)request;
    (void)reply;
    (void)now_ms;
}

static void answer_text(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    const struct settings *settings = device->settings;
    const char *text = settings->build;
    if (request->header == 246)
        text = settings->maker;
    else if (request->header == 245)
        text = settings->category;
    else if (request->header == 244)
        text = settings->product;
    else if (request->header == 241)
        text = settings->software;
    reply_bytes(reply, text, strlen(text));
}

static void answer_serial(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)request;
    (void)now_ms;
    reply_number(reply, device->settings->serial, 3);
}

static void answer_comms(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    bool revision = request->header == 4;
    const long *bytes = revision ? device->settings->comms : device->settings->priority;
    for (int i = 0; i < (revision ? 3 : 2); i++)
        reply_byte(reply, bytes[i]);
}

static void answer_reset(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)request;
    (void)reply;
    device_restart(device, 0, "reset_by_host", now_ms);
}

static void answer_quality(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    if (request->header == 3) {
        device->timeouts = device->ignored = device->bad_checksums = 0;
        return;
    }
    reply_byte(reply, device->timeouts);
    reply_byte(reply, device->ignored);
    reply_byte(reply, device->bad_checksums);
}

static void answer_master(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    if (request->header == 227) {
        reply_byte(reply, device->master);
        return;
    }
    bool opens = (request->data[0] & 1) != 0 && device->master == 0;
    device->master = request->data[0] & 1;
    if (opens)
        device->last_poll_ms = now_ms; /* the watchdog counts from here */
}

static void answer_masks(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    if (request->header == 230)
        reply_bytes(reply, device->masks, 2);
    else
        memcpy(device->masks, request->data, 2);
}

static void answer_mode(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    if (request->header == 152)
        reply_byte(reply, device->mode);
    else
        device->mode = request->data[0] & 3;
}

static void answer_events(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)request;
    device->last_poll_ms = now_ms;
    if (device->self_inhibited)
        truth_say(device->truth, now_ms, "polling_resumed", NULL, 0);
    device->self_inhibited = false;
    reply_byte(reply, device->counter);
    reply_bytes(reply, device->pairs, sizeof device->pairs);
}

/* What an unprogrammed position answers is not settled by the standard, so the script chooses. */
static void answer_empty(const struct settings *settings, struct reply *reply)
{
    static const char *const fillers[] = {
        [EMPTY_DOTS] = ".......", [EMPTY_SPACES] = "       ", [EMPTY_ZEROS] = "0000000"};
    if (settings->empty == EMPTY_NAK)
        reply->header = REPLY_NAK;
    else if (settings->empty == EMPTY_SILENCE)
        reply->header = REPLY_SILENT;
    else
        reply_bytes(reply, fillers[settings->empty], 7);
}

static void answer_bill_id(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    uint8_t type = request->data[0];
    if (type == 0 || type > SCRIPT_TYPES)
        reply->header = REPLY_NAK;
    else if (device->settings->notes[type][0] == '\0')
        answer_empty(device->settings, reply);
    else
        reply_bytes(reply, device->settings->notes[type], 7);
}

/* An unknown country: 0,0,0. */
static void answer_scaling(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    const struct settings *settings = device->settings;
    struct country found = {.scale = 0};
    for (size_t i = 0; i < settings->country_count; i++) {
        if (memcmp(settings->countries[i].letters, request->data, 2) == 0)
            found = settings->countries[i];
    }
    reply_number(reply, found.scale, 2);
    reply_byte(reply, found.places);
}

static void answer_position(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    long mask = 0;
    for (int type = 1; type <= SCRIPT_TYPES; type++) {
        if (memcmp(device->settings->notes[type], request->data, 2) == 0)
            mask |= 1L << (type - 1);
    }
    reply_number(reply, mask, 2);
}

static void answer_route(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    uint8_t route = request->data[0];
    if (route != ROUTE_RETURN && route != ROUTE_STACK && route != ROUTE_HOLD) {
        reply->header = REPLY_NAK;
    } else if (device->path != PATH_HELD) {
        reply_byte(reply, ESCROW_EMPTY);
    } else if (device->route_failures > 0) {
        device->route_failures--;
        reply_byte(reply, ROUTE_FAILED);
    } else if (route == ROUTE_HOLD) {
        device->escrow_due_ms = now_ms + device->settings->escrow_timeout_ms;
    } else if (route == ROUTE_STACK) {
        device_stack(device, now_ms);
    } else {
        device_return(device, now_ms);
    }
}

static void answer_counter(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)now_ms;
    long count = device->inserted;
    if (request->header == 225)
        count = device->accepted;
    else if (request->header == 194)
        count = device->rejected;
    else if (request->header == 193)
        count = device->frauds;
    else if (request->header == 150)
        count = request->data[0] <= SCRIPT_TYPES ? device->accepted_by_type[request->data[0]] : 0;
    else if (request->header == 149)
        count = device->errors[request->data[0]];
    reply_number(reply, count, 3);
}

static void answer_opto(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)request;
    (void)now_ms;
    reply_byte(reply, device->path != PATH_EMPTY);
}

static void answer_self_check(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    (void)request;
    (void)now_ms;
    reply_byte(reply, device->fault);
    if (device->fault_extra >= 0)
        reply_byte(reply, device->fault_extra);
}

static const struct command {
    uint8_t header;
    int length; /* of the request's data */
    answer *run;
} commands[] = {
    {254, ANY_LENGTH, answer_ack}, {249, 0, answer_comms},    {246, 0, answer_text},    {245, 0, answer_text},
    {244, 0, answer_text},         {242, 0, answer_serial},   {241, 0, answer_text},    {236, 0, answer_opto},
    {232, 0, answer_self_check},   {231, 2, answer_masks},    {230, 0, answer_masks},   {228, 1, answer_master},
    {227, 0, answer_master},       {226, 0, answer_counter},  {225, 0, answer_counter}, {194, 0, answer_counter},
    {193, 0, answer_counter},      {192, 0, answer_text},     {159, 0, answer_events},  {157, 1, answer_bill_id},
    {156, 2, answer_scaling},      {155, 2, answer_position}, {154, 1, answer_route},   {153, 1, answer_mode},
    {152, 0, answer_mode},         {150, 1, answer_counter},  {149, 1, answer_counter}, {4, 0, answer_comms},
    {3, 0, answer_quality},        {2, 0, answer_quality},    {1, 0, answer_reset},
};

static const struct command *command_find(uint8_t header)
{
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        if (commands[i].header == header)
            return &commands[i];
    }
    return NULL;
}

void device_answer(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms)
{
    static const int treated[] = {[TREAT_SILENT] = REPLY_SILENT, [TREAT_NAK] = REPLY_NAK, [TREAT_BUSY] = REPLY_BUSY};
    *reply = (struct reply){.header = REPLY_ACK};
    const struct command *command = command_find(request->header);
    enum header_treatment treatment = (enum header_treatment)device->settings->treatment[request->header];
    if (treatment != TREAT_ANSWER)
        reply->header = treated[treatment];
    else if (command == NULL)
        reply->header = REPLY_SILENT;
    else if (command->length != ANY_LENGTH && request->length != (size_t)command->length)
        reply->header = REPLY_NAK;
    else
        command->run(device, request, reply, now_ms);
}
