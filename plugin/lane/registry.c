/*
 * Adapter tables: is one fit to be called? See registry.h; the limits are those of counterfoil/adapter.h.
 */
#include "lane/registry.h"

#include "model/error.h"
#include "model/text.h"

#include <string.h>

/* docs/word-carrier.md: the longest block. */
#define WORDS_FRAME_MAX 80

#define CAPABILITIES_KNOWN                                                                                             \
    ((uint32_t)(CFOIL_ADAPTER_ESCROW | CFOIL_ADAPTER_INHIBIT | CFOIL_ADAPTER_COUNTER | CFOIL_ADAPTER_MEMORY |          \
                CFOIL_ADAPTER_WORDS | CFOIL_ADAPTER_LINES))

static int32_t fault(cfoil_error_info *error, const char *member, const char *rule)
{
    return error_set(error, CFOIL_E_ARGUMENT_ADAPTER, 0, "registry", "Adapter table: %s %s.", member, rule);
}

static bool id_valid(const char *id)
{
    if (!text_acceptable(id, 1, 16))
        return false;
    return strspn(id, "abcdefghijklmnopqrstuvwxyz0123456789-") == strlen(id);
}

static int32_t limits_check(const cfoil_adapter *adapter, cfoil_error_info *error)
{
    if (adapter->maturity < CFOIL_MATURITY_EXPERIMENTAL || adapter->maturity > CFOIL_MATURITY_HARDWARE_VERIFIED)
        return fault(error, "maturity", "must be one of CFOIL_MATURITY_*");
    if (adapter->frame_max < 1 || adapter->frame_max > 4096)
        return fault(error, "frame_max", "must be 1 to 4096");
    if ((adapter->capabilities & ~CAPABILITIES_KNOWN) != 0)
        return fault(error, "capabilities", "must have only the bits CFOIL_ADAPTER_* of this library");
    uint32_t seams = adapter->capabilities & (CFOIL_ADAPTER_WORDS | CFOIL_ADAPTER_LINES);
    if (seams == (CFOIL_ADAPTER_WORDS | CFOIL_ADAPTER_LINES))
        return fault(error, "capabilities", "must not have both WORDS and LINES");
    if (seams == CFOIL_ADAPTER_WORDS && (adapter->frame_max > WORDS_FRAME_MAX || adapter->frame_max % 2 != 0))
        return fault(error, "frame_max", "must be 2 to 80 and even with WORDS");
    if (adapter->state_size < 1 || adapter->state_size > 1048576)
        return fault(error, "state_size", "must be 1 to 1048576");
    if (adapter->answer_max_ms < 100 || adapter->answer_max_ms > 60000)
        return fault(error, "answer_max_ms", "must be 100 to 60000");
    return CFOIL_OK;
}

static int32_t line_check(const cfoil_line *line, cfoil_error_info *error)
{
    if (line->baud < 300 || line->baud > 4000000)
        return fault(error, "line.baud", "must be 300 to 4000000");
    if (line->data_bits < 5 || line->data_bits > 8)
        return fault(error, "line.data_bits", "must be 5 to 8");
    if (line->stop_bits < 1 || line->stop_bits > 2)
        return fault(error, "line.stop_bits", "must be 1 or 2");
    if (line->parity < CFOIL_PARITY_NONE || line->parity > CFOIL_PARITY_SPACE)
        return fault(error, "line.parity", "must be one of CFOIL_PARITY_*");
    return CFOIL_OK;
}

int32_t adapter_check(const cfoil_adapter *adapter, cfoil_error_info *error)
{
    if (adapter->struct_size != sizeof *adapter)
        return fault(error, "struct_size", "must be sizeof(cfoil_adapter) of interface version 1");
    if (adapter->api_version != CFOIL_ADAPTER_API)
        return fault(error, "api_version", "must be CFOIL_ADAPTER_API of this library");
    if (!id_valid(adapter->id))
        return fault(error, "id", "must be 1 to 16 of a-z, 0-9 and '-'");
    if (!text_acceptable(adapter->name, 1, 64))
        return fault(error, "name", "must be 1 to 64 bytes of UTF-8");
    if (adapter->open == NULL || adapter->step == NULL || adapter->command == NULL)
        return fault(error, "open, step and command", "must not be NULL");
    if (adapter->reserved != 0 || adapter->extension != NULL)
        return fault(error, "reserved and extension", "must be 0 and NULL");
    int32_t result = limits_check(adapter, error);
    return result != CFOIL_OK ? result : line_check(&adapter->line, error);
}
