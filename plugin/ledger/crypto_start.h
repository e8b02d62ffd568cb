/*
 * The one place where libsodium is made ready for what needs more than hashing: PINs, keys, encryption.
 */
#ifndef LEDGER_CRYPTO_START_H
#define LEDGER_CRYPTO_START_H

#include <counterfoil/counterfoil.h>

/* Call it before anything of libsodium but SHA-256. It chooses libsodium's code for this processor, once for the process;
 * libsodium guards it for several threads, and it is harmless when the host has done it already (libsodium, "Usage"). It
 * is the only thing this library does that is seen outside it (docs/abi.md). CFOIL_OK or CFOIL_E_SYSTEM_OS. */
int32_t crypto_start(cfoil_error_info *error);

#endif
