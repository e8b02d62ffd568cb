/*
 * Adapter tables: is one fit to be called?
 */
#ifndef LANE_REGISTRY_H
#define LANE_REGISTRY_H

#include <counterfoil/adapter.h>

/* Checks every member. CFOIL_OK or CFOIL_E_ARGUMENT_ADAPTER with a line that names the member. */
int32_t adapter_check(const cfoil_adapter *adapter, cfoil_error_info *error);

#endif
