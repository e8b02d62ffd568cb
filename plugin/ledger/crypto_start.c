/*
 * Making libsodium ready. See crypto_start.h.
 */
#include "ledger/crypto_start.h"

#include "model/error.h"

#include <sodium/core.h>

int32_t crypto_start(cfoil_error_info *error)
{
    if (sodium_init() >= 0)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_SYSTEM_OS, 0, "ledger", "The cryptographic library cannot start: try again.");
}
