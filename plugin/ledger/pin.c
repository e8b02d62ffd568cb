/*
 * PINs. See pin.h.
 */
#include "ledger/pin.h"

#include "ledger/crypto_start.h"
#include "model/error.h"

#include <errno.h>
#include <sodium/crypto_pwhash.h>
#include <string.h>

#define AREA         "ledger"
#define LOCK_MS      30000
#define LOCK_MS_MAX  3600000
#define FAILURE_FREE 2

_Static_assert(crypto_pwhash_STRBYTES <= PIN_HASH_SIZE, "the place for a hash is too small");

/* Of nobody's PIN, made with the same limits: checking against it takes as long as against any other. */
static const char nobody[PIN_HASH_SIZE] = "$argon2id$v=19$m=65536,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$"
                                          "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

int32_t pin_hash(const char *pin, char hash[PIN_HASH_SIZE], cfoil_error_info *error)
{
    int32_t result = crypto_start(error);
    if (result != CFOIL_OK)
        return result;
    memset(hash, 0, PIN_HASH_SIZE);
    if (crypto_pwhash_str(hash, pin, strlen(pin), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                          crypto_pwhash_MEMLIMIT_INTERACTIVE) == 0)
        return CFOIL_OK;
    return error_memory_set(error, AREA); /* it fails for nothing else */
}

int32_t pin_check(const char *hash, const char *pin, cfoil_error_info *error)
{
    int32_t result = crypto_start(error);
    if (result != CFOIL_OK)
        return result;
    errno = 0;
    bool right = crypto_pwhash_str_verify(hash != NULL ? hash : nobody, pin, strlen(pin)) == 0;
    if (right && hash != NULL)
        return CFOIL_OK;
    if (!right && errno == ENOMEM) /* it answers both failures alike */
        return error_memory_set(error, AREA);
    return error_set(error, CFOIL_E_RULE_PIN, 0, AREA, "The staff code or the PIN is not right: try again.");
}

int64_t pin_lock_ms(int64_t failures)
{
    if (failures <= FAILURE_FREE)
        return 0;
    int64_t lock_ms = LOCK_MS;
    for (int64_t i = FAILURE_FREE + 1; i < failures && lock_ms < LOCK_MS_MAX; i++)
        lock_ms *= 2;
    return lock_ms < LOCK_MS_MAX ? lock_ms : LOCK_MS_MAX;
}
