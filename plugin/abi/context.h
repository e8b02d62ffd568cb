/*
 * What the parts of the interface share of the context.
 */
#ifndef ABI_CONTEXT_H
#define ABI_CONTEXT_H

#include "abi/handle.h"
#include "lane/lane.h"
#include "packs/pack.h"

#include <stdbool.h>

/* NULL = no adapter has that id. */
const cfoil_adapter *context_adapter_find(cfoil_context *context, const char *id);

/* CFOIL_E_STATE_EXISTS when the id is in use. The table must stay valid until the context ends. */
int32_t context_adapter_add(cfoil_context *context, const cfoil_adapter *adapter, enum adapter_origin origin,
                            cfoil_error_info *error);

/* Unloads the adapters that came from files of their own. No lane may use one any more. */
void context_loaded_free(cfoil_context *context);

/* Frees the adapters that were made from descriptions. No lane may use one any more. */
void context_described_free(cfoil_context *context);

/* Was cfoil_context_shutdown() called? */
bool context_shutting_down(cfoil_context *context);

/* The packs as they are now; give them back with pack_set_release(). */
struct pack_set *context_packs_retain(cfoil_context *context);

/* The same with the built-in packs that are wanted, read now if nobody wanted them before; on failure *packs is NULL. */
int32_t context_packs_provide(cfoil_context *context, const struct pack_wanted *wanted, struct pack_set **packs,
                              cfoil_error_info *error);

/* Puts `packs` in the place of `expected`, unless another thread was faster. The caller keeps its counts of both. */
bool context_packs_replace(cfoil_context *context, struct pack_set *expected, struct pack_set *packs);

/* Tells the log about a failure that no call can return. */
void context_log(cfoil_context *context, int32_t level, const char *area, const char *key,
                 const cfoil_error_info *error);

#endif
