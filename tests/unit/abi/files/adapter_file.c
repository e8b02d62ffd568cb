/*
 * An adapter file for the tests of cfoil_adapter_load(): good, or with one thing wrong that the build names.
 */
#include <counterfoil/adapter.h>

/* Each can be given by the build; these make a good table. */
#ifndef STRUCT_SIZE
#define STRUCT_SIZE sizeof(cfoil_adapter)
#endif
#ifndef VERSION
#define VERSION CFOIL_ADAPTER_API
#endif
#ifndef ID
#define ID "tried"
#endif
#ifndef NAME
#define NAME "An adapter that does nothing"
#endif
#ifndef MATURITY
#define MATURITY CFOIL_MATURITY_REPLAY_VERIFIED
#endif
#ifndef CAPABILITIES
#define CAPABILITIES CFOIL_ADAPTER_INHIBIT
#endif
#ifndef FRAME_MAX
#define FRAME_MAX 16
#endif
#ifndef STATE_SIZE
#define STATE_SIZE 16
#endif
#ifndef BAUD
#define BAUD 9600
#endif
#ifndef ANSWER_MAX_MS
#define ANSWER_MAX_MS 1000
#endif
#ifndef STEP
#define STEP idle_step
#endif
#ifndef RESERVED
#define RESERVED 0
#endif
#ifndef ENTRY
#define ENTRY counterfoil_adapter_entry
#endif

static int32_t idle_open(void *state, const cfoil_adapter_start *start)
{
    (void)state;
    (void)start;
    return CFOIL_OK;
}

uint64_t idle_step(void *state, const cfoil_adapter_input *input);
uint64_t idle_step(void *state, const cfoil_adapter_input *input)
{
    (void)state;
    (void)input;
    return UINT64_MAX;
}

static int32_t idle_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    (void)state;
    (void)command;
    (void)argument;
    (void)now_us;
    return CFOIL_OK;
}

#ifdef UNRESOLVED
int32_t nobody_has_this_function(void);
#define OPEN nobody_open
static int32_t nobody_open(void *state, const cfoil_adapter_start *start)
{
    return nobody_has_this_function() + idle_open(state, start);
}
#else
#define OPEN idle_open
#endif

static const cfoil_adapter table = {
    .struct_size = STRUCT_SIZE,
    .api_version = VERSION,
    .id = ID,
    .name = NAME,
    .maturity = MATURITY,
    .capabilities = CAPABILITIES,
    .frame_max = FRAME_MAX,
    .state_size = STATE_SIZE,
    .line = {BAUD, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = ANSWER_MAX_MS,
    .reserved = RESERVED,
    .open = OPEN,
    .step = STEP,
    .command = idle_command,
};

CFOIL_ADAPTER_EXPORT const cfoil_adapter *ENTRY(uint32_t version);
const cfoil_adapter *ENTRY(uint32_t version)
{
#ifdef NEWER
    return version > CFOIL_ADAPTER_API ? &table : NULL;
#else
    (void)version;
    return &table;
#endif
}
